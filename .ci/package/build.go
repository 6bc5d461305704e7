package main

import (
	"compress/gzip"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"time"
)

// platform is one that packages are built for. The oldest 32-bit boards are ARMv6.
type platform struct {
	debian string
	env    []string
}

var platforms = []platform{
	{"amd64", []string{"GOARCH=amd64", "GOAMD64=v1"}},
	{"arm64", []string{"GOARCH=arm64"}},
	{"armhf", []string{"GOARCH=arm", "GOARM=6"}},
}

// commit is what is built: its name for people, its version for Debian, its time.
type commit struct {
	name, version string
	at            time.Time
}

// released is a version tag with what git describe adds to it.
var released = regexp.MustCompile(`^v?(\d[0-9.]*)(?:-(\d+)-g([0-9a-f]+))?(-dirty)?$`)

// describe asks git for the commit; a version that is given is taken as it is.
func describe(project, version string) (commit, error) {
	name, err := output(project, "git", "describe", "--tags", "--always", "--dirty")
	if err != nil {
		return commit{}, err
	}
	seconds := os.Getenv("SOURCE_DATE_EPOCH")
	if seconds == "" {
		if seconds, err = output(project, "git", "log", "-1", "--format=%ct"); err != nil {
			return commit{}, err
		}
	}
	unix, err := strconv.ParseInt(seconds, 10, 64)
	if err != nil {
		return commit{}, fmt.Errorf("time of the commit: %w", err)
	}
	made := commit{name: name, version: version, at: time.Unix(unix, 0).UTC()}
	if version == "" {
		made.version = debianVersion(name, made.at)
	}
	return made, nil
}

// debianVersion makes a version that sorts as the commits do (deb-version(7)).
func debianVersion(name string, at time.Time) string {
	parts := released.FindStringSubmatch(name)
	if parts == nil {
		return "0~git" + at.Format("20060102150405") + "." + strings.ReplaceAll(name, "-", ".")
	}
	version := parts[1]
	if parts[2] != "" {
		version += "+" + parts[2] + ".g" + parts[3]
	}
	if parts[4] != "" {
		version += "+dirty"
	}
	return version
}

// goFlags are those of every build: nothing of the machine gets into the program.
func goFlags(made commit) []string {
	return []string{"-trimpath", "-buildvcs=false", "-ldflags", "-s -w -buildid= -X main.version=" + made.name}
}

// writeManual has the program write its own man pages and completions.
func writeManual(project, scratch string, made commit) error {
	args := append([]string{"run"}, goFlags(made)...)
	cmd := exec.Command("go", append(args, "./cmd/soakline", "manual", scratch)...)
	cmd.Dir, cmd.Stderr = project, os.Stderr
	if err := cmd.Run(); err != nil {
		return fmt.Errorf("man pages: %w", err)
	}
	pages, err := filepath.Glob(filepath.Join(scratch, "*.1"))
	if err != nil || len(pages) == 0 {
		return fmt.Errorf("no man pages were written (%w)", err)
	}
	for _, page := range pages {
		if err := compress(page); err != nil {
			return err
		}
	}
	return nil
}

// compress writes a file's gzip beside it, without name and time in it.
func compress(name string) error {
	text, err := os.ReadFile(name)
	if err != nil {
		return err
	}
	file, err := os.Create(name + ".gz")
	if err != nil {
		return err
	}
	packed, err := gzip.NewWriterLevel(file, gzip.BestCompression)
	if err == nil {
		_, err = packed.Write(text)
		err = errors.Join(err, packed.Close())
	}
	return errors.Join(err, file.Close())
}

// build builds the program, with everything that it needs inside.
func build(project, to string, made commit, p platform) error {
	args := append([]string{"build"}, goFlags(made)...)
	cmd := exec.Command("go", append(args, "-o", to, "./cmd/soakline")...)
	cmd.Dir, cmd.Stderr = project, os.Stderr
	cmd.Env = append(append(os.Environ(), "CGO_ENABLED=0", "GOOS=linux"), p.env...)
	return cmd.Run()
}

func output(dir, name string, args ...string) (string, error) {
	cmd := exec.Command(name, args...)
	cmd.Dir, cmd.Stderr = dir, os.Stderr
	text, err := cmd.Output()
	if err != nil {
		return "", fmt.Errorf("%s %s: %w", name, strings.Join(args, " "), err)
	}
	return strings.TrimSpace(string(text)), nil
}
