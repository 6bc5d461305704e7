package config

import (
	"errors"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"strings"
	"syscall"
)

// folder is where bench.yaml lies: the files that it names lie relative to it.
type folder struct {
	read func(name string) ([]byte, error)
	show func(name string) string // the name as a person finds the file
}

// onDisk is a folder of this machine.
func onDisk(dir string) folder {
	at := func(name string) string {
		if filepath.IsAbs(name) {
			return name
		}
		return filepath.Join(dir, name)
	}
	return folder{
		read: func(name string) ([]byte, error) { return os.ReadFile(at(name)) },
		show: at,
	}
}

// shippedMark begins the names of files that came with the program.
const shippedMark = "shipped "

// inside is a folder of files that came with the program.
func inside(files fs.FS, dir string) folder {
	return folder{
		read: func(name string) ([]byte, error) { return fs.ReadFile(files, path.Join(dir, name)) },
		show: func(name string) string { return shippedMark + path.Join(dir, name) },
	}
}

// namesFile tells the path of a file from the name of a shipped one.
func namesFile(ref string) bool {
	return strings.ContainsAny(ref, `/\`) || strings.HasSuffix(ref, ".yaml") || strings.HasSuffix(ref, ".yml")
}

// unreadable says in a few words why a file could not be read.
func unreadable(err error) string {
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return "no such file"
	case errors.Is(err, fs.ErrPermission):
		return "no permission to read it"
	case errors.Is(err, syscall.EISDIR):
		return "it is a folder"
	}
	if at, ok := errors.AsType[*fs.PathError](err); ok {
		return at.Err.Error()
	}
	return err.Error()
}
