package book

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"sync/atomic"
)

// watched is the file that a book was opened as, so that one which was removed,
// replaced or cut short meanwhile is not written to: what went into a file without a
// name would be gone with the process, and nobody would know.
type watched struct {
	file fs.FileInfo
	size atomic.Int64 // it only grows, but for Vacuum
}

// watch notes which file the book is.
func (b *Book) watch() error {
	info, err := os.Stat(b.path)
	if err != nil {
		return b.fail("open", err)
	}
	b.watched.file = info
	b.watched.size.Store(info.Size())
	return nil
}

// there refuses to go on with a file that is not the one which was opened.
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
	if was := b.watched.size.Load(); info.Size() < was {
		return &Error{Path: b.path, Doing: doing, Kind: ErrDamaged, Detail: fmt.Sprintf("its file was cut short under the program, from %d to %d bytes", was, info.Size()),
			Hint: "stop the bench and go back to a copy, or have soakline book check save what can be read"}
	}
	b.watched.size.Store(info.Size())
	return nil
}
