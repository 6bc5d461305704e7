package book

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
)

// magic begins every SQLite 3 file (SQLite file format, 1.3.1).
const magic = "SQLite format 3\x00"

// inspect looks at what lies at path before a database is made of it, because the
// database would say no more than "unable to open".
func inspect(path string, mustExist bool) error {
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist) && !mustExist:
		return inspectFolder(path)
	case errors.Is(err, fs.ErrNotExist):
		return &Error{Path: path, Doing: "open", Kind: ErrAbsent}
	case err != nil:
		return failure(path, "open", err)
	case info.IsDir():
		return &Error{Path: path, Doing: "open", Kind: ErrFolder, Hint: "name a file in it"}
	case !info.Mode().IsRegular():
		return &Error{Path: path, Doing: "open", Kind: ErrNotBook, Detail: "not a regular file"}
	case info.Size() == 0 && mustExist:
		return &Error{Path: path, Doing: "open", Kind: ErrNotBook, Detail: "the file is empty"}
	case info.Size() == 0:
		return nil
	}
	return inspectStart(path)
}

func inspectFolder(path string) error {
	folder := filepath.Dir(path)
	info, err := os.Stat(folder)
	if err != nil {
		return &Error{Path: path, Doing: "open", Kind: ErrAbsent, Detail: "folder " + folder, Hint: "make the folder first", Err: err}
	}
	if !info.IsDir() {
		return &Error{Path: path, Doing: "open", Kind: ErrAbsent, Detail: folder + " is not a folder"}
	}
	return nil
}

// inspectStart reads the first bytes of an existing file.
func inspectStart(path string) error {
	file, err := os.Open(path) // #nosec G304 -- the user names the book
	if err != nil {
		return failure(path, "open", err)
	}
	defer file.Close()
	start := make([]byte, 100) // the length of SQLite's file header
	n, err := io.ReadFull(file, start)
	if err != nil && !errors.Is(err, io.ErrUnexpectedEOF) {
		return failure(path, "open", err)
	}
	if n < len(magic) || string(start[:len(magic)]) != magic {
		return &Error{Path: path, Doing: "open", Kind: ErrNotBook, Detail: "it does not begin like an SQLite file"}
	}
	if n < len(start) {
		return &Error{
			Path: path, Doing: "open", Kind: ErrDamaged, Detail: fmt.Sprintf("cut short after %d bytes", n),
			Hint: "go back to a copy of it",
		}
	}
	return nil
}

// IsBook tells whether the file at path begins as a book does.
func IsBook(path string) bool {
	file, err := os.Open(path) // #nosec G304 -- the user names it
	if err != nil {
		return false
	}
	defer file.Close()
	start := make([]byte, len(magic))
	_, err = io.ReadFull(file, start)
	return err == nil && string(start) == magic
}

// fileSize returns 0 for a file that is not there.
func fileSize(path string) int64 {
	info, err := os.Stat(path)
	if err != nil {
		return 0
	}
	return info.Size()
}
