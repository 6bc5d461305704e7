package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/goreleaser/nfpm/v2"
	"github.com/goreleaser/nfpm/v2/deb"
	"github.com/goreleaser/nfpm/v2/files"
)

// pack builds the program for a platform and puts it with all that belongs to it
// into a package; it returns the package's name.
func pack(project, scratch, out string, made commit, p platform) (string, error) {
	program := filepath.Join(scratch, "soakline-"+p.debian)
	if err := build(project, program, made, p); err != nil {
		return "", err
	}
	contents, err := installed(project, scratch, program)
	if err != nil {
		return "", err
	}
	for _, one := range contents {
		one.FileInfo.MTime, one.FileInfo.Owner, one.FileInfo.Group = made.at, "root", "root"
	}
	scripts := filepath.Join(project, ".ci", "package", "files")
	info := nfpm.WithDefaults(&nfpm.Info{
		Name: "soakline", Arch: p.debian, Platform: "linux", Version: made.version, VersionSchema: "none",
		Section: "electronics", Priority: "optional", Maintainer: "soakline <root@localhost>", License: "Apache-2.0",
		Description: "watches refurbished home computers and consoles on a repair bench\n" +
			"It reads instruments over serial ports, judges what they say against test\n" +
			"sheets, keeps everything in one file and gives the verdict at the end of a soak.",
		MTime: made.at,
		Overridables: nfpm.Overridables{
			Contents: contents, Suggests: []string{"prometheus"}, Deb: nfpm.Deb{Compression: "gzip"},
			Scripts: nfpm.Scripts{
				PostInstall: filepath.Join(scripts, "postinst"), PreRemove: filepath.Join(scripts, "prerm"),
				PostRemove: filepath.Join(scripts, "postrm"),
			},
		},
	})
	if err := nfpm.PrepareForPackager(info, "deb"); err != nil {
		return "", err
	}
	name := filepath.Join(out, fmt.Sprintf("soakline_%s_%s.deb", made.version, p.debian))
	file, err := os.Create(name)
	if err != nil {
		return "", err
	}
	err = deb.Default.Package(info, file)
	return name, errors.Join(err, file.Close())
}

// installed lists where everything goes (Filesystem Hierarchy Standard 3.0).
func installed(project, scratch, program string) (files.Contents, error) {
	const doc, examples = "/usr/share/doc/soakline/", "/usr/share/doc/soakline/examples/"
	of := func(name string) string { return filepath.Join(project, ".ci", "package", "files", name) }
	made := func(name string) string { return filepath.Join(scratch, name) }
	contents := files.Contents{
		file(program, "/usr/bin/soakline", 0o755),
		file(of("soakline.service"), "/usr/lib/systemd/system/soakline.service", 0o644),
		file(of("sysusers.conf"), "/usr/lib/sysusers.d/soakline.conf", 0o644),
		file(of("70-soakline.rules"), "/usr/lib/udev/rules.d/70-soakline.rules", 0o644),
		file(of("bench.yaml"), examples+"bench.yaml", 0o644),
		file(made("soakline.bash"), "/usr/share/bash-completion/completions/soakline", 0o644),
		file(made("_soakline"), "/usr/share/zsh/vendor-completions/_soakline", 0o644),
		file(made("soakline.fish"), "/usr/share/fish/vendor_completions.d/soakline.fish", 0o644),
		file(filepath.Join(project, "LICENSE"), doc+"copyright", 0o644),
		file(filepath.Join(project, "README.md"), doc+"README.md", 0o644),
	}
	for pattern, to := range map[string]string{
		made("*.1.gz"): "/usr/share/man/man1/",
		filepath.Join(project, "config", "sheets", "*.yaml"):      examples + "sheets/",
		filepath.Join(project, "config", "commandsets", "*.yaml"): examples + "commandsets/",
		filepath.Join(project, "config", "rules", "*"):            examples + "rules/",
		filepath.Join(project, "config", "dashboards", "*"):       examples + "dashboards/",
	} {
		names, err := filepath.Glob(pattern)
		if err != nil {
			return nil, err
		}
		for _, name := range names {
			if strings.HasSuffix(name, ".go") {
				continue
			}
			contents = append(contents, file(name, to+filepath.Base(name), 0o644))
		}
	}
	return contents, nil
}

func file(from, to string, mode os.FileMode) *files.Content {
	return &files.Content{Source: from, Destination: to, FileInfo: &files.ContentFileInfo{Mode: mode}}
}
