// Command package builds the Debian packages of soakline for the platforms that a
// bench runs on, from the project's folder into another. The same commit gives the
// same bytes: times come from SOURCE_DATE_EPOCH, or else from the commit.
package main

import (
	"errors"
	"flag"
	"fmt"
	"os"
	"path/filepath"
)

func main() {
	project := flag.String("project", "..", "the project's folder")
	out := flag.String("out", "", "the folder for the packages")
	version := flag.String("version", "", "the packages' version (default: from git)")
	only := flag.String("only", "", "the one platform to build for: amd64, arm64 or armhf (default: all)")
	flag.Parse()
	if err := run(*project, *out, *version, *only); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

func run(project, out, version, only string) (err error) {
	if out == "" {
		return errors.New("say where to: -out FOLDER")
	}
	if project, err = filepath.Abs(project); err != nil {
		return err
	}
	if err := os.MkdirAll(out, 0o750); err != nil {
		return err
	}
	made, err := describe(project, version)
	if err != nil {
		return err
	}
	scratch, err := os.MkdirTemp("", "soakline-package-")
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(scratch)) }()
	if err := writeManual(project, scratch, made); err != nil {
		return err
	}
	for _, p := range platforms {
		if only != "" && only != p.debian {
			continue
		}
		name, err := pack(project, scratch, out, made, p)
		if err != nil {
			return fmt.Errorf("package for %s: %w", p.debian, err)
		}
		fmt.Println(name)
	}
	return nil
}
