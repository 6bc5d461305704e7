package book

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
)

// watched is the file that a book was opened as, so that one which was removed,
// replaced or cut short meanwhile is not written to: what went into a file without a
// name would be gone with the process, and nobody would know.
type watched struct{ file fs.FileInfo }

// watch notes which file the book is.
func (b *Book) watch() error {
	info, err := os.Stat(b.path)
	if err != nil {
		return b.fail("open", err)
	}
	b.watched.file = info
	return nil
}

// there refuses to go on with a file that is not the one which was opened, or that is
// cut down to nothing.
func (b *Book) there(doing string) error {
	if b.watched.file == nil {
		return nil // it is being opened
	}
	info, err := os.Stat(b.path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return &Error{Path: b.path, Doing: doing, Kind: ErrAbsent, Detail: "its file was removed or renamed under the program",
			Hint: "put it back under its name: readings wait, and go in then"}
	case err != nil:
		return b.fail(doing, err)
	case !os.SameFile(info, b.watched.file):
		return &Error{Path: b.path, Doing: doing, Kind: ErrNotBook, Detail: "another file was put in its place under the program",
			Hint: "put the first one back under its name, or start the bench again with the new one: readings that wait are lost by that"}
	}
	if info.Size() < onePage {
		return &Error{Path: b.path, Doing: doing, Kind: ErrDamaged, Detail: fmt.Sprintf("its file was cut short under the program, to %d bytes", info.Size()),
			Hint: "stop the bench and go back to a copy, or have soakline book check save what can be read"}
	}
	return nil
}

// onePage is the least that a book has (SQLite, PRAGMA page_size). More cannot be said
// from outside: the file may grow shorter by itself, and opening it to read its header
// would take the locks away that the database has on it (fcntl(2), F_SETLK).
const onePage = 4096
