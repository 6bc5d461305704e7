package book

import (
	"context"
	"errors"
	"fmt"
	"io/fs"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

// What can be wrong with a book; every *Error wraps exactly one of them.
var (
	ErrAbsent   = errors.New("no such book")
	ErrFolder   = errors.New("is a folder, not a book")
	ErrNotBook  = errors.New("is not a book of this program")
	ErrNewer    = errors.New("written by a newer program")
	ErrOlder    = errors.New("must be migrated before it can be read")
	ErrDamaged  = errors.New("damaged")
	ErrDenied   = errors.New("no permission")
	ErrHeld     = errors.New("another process writes to it")
	ErrReadOnly = errors.New("opened for reading only")
	ErrFull     = errors.New("disk full")
	ErrIO       = errors.New("disk trouble")
	ErrBusy     = errors.New("busy")

	ErrNotFound = errors.New("not in the book")
	ErrExists   = errors.New("already in the book")
	ErrTaken    = errors.New("there is a file of that name already")
	ErrInvalid  = errors.New("cannot be kept")
	ErrThinned  = errors.New("thinned")
	ErrOther    = errors.New("failed")
)

// Error says what went wrong with which book, in one line.
type Error struct {
	Path string
	// Doing is what was being done: "open", "commit 160 entries".
	Doing string
	// Kind is one of the Err values of this package.
	Kind error
	// Detail says more about Kind, and Hint what a person can do; both may be empty.
	Detail, Hint string
	// Err is the cause from below, if there is one.
	Err error
}

// Error writes path, action, kind, detail, cause and hint, as far as they are known.
func (e *Error) Error() string {
	text := fmt.Sprintf("book %s: %s: %v", e.Path, e.Doing, e.Kind)
	if e.Detail != "" {
		text += ": " + e.Detail
	}
	if e.Err != nil {
		text += ": " + e.Err.Error()
	}
	if e.Hint != "" {
		text += "; " + e.Hint
	}
	return text
}

// Unwrap gives the kind and the cause.
func (e *Error) Unwrap() []error {
	if e.Err == nil {
		return []error{e.Kind}
	}
	return []error{e.Kind, e.Err}
}

// fail wraps a cause from the database or the file system; nil stays nil, and what
// is an *Error already stays as it is.
func (b *Book) fail(doing string, err error) error {
	return failure(b.path, doing, err)
}

func failure(path, doing string, err error) error {
	if err == nil {
		return nil
	}
	if _, ok := errors.AsType[*Error](err); ok {
		return err
	}
	hint, kind := kindOf(err)
	return &Error{Path: path, Doing: doing, Kind: kind, Hint: hint, Err: err}
}

// refuse is an error whose cause lies in what was asked, not below.
func (b *Book) refuse(doing string, kind error, format string, args ...any) error {
	return &Error{Path: b.path, Doing: doing, Kind: kind, Detail: fmt.Sprintf(format, args...)}
}

// kindOf sorts an error by SQLite's primary result code, with what a person can do.
func kindOf(err error) (hint string, kind error) {
	if e, ok := errors.AsType[*sqlite.Error](err); ok {
		switch e.Code() & 0xff {
		case sqlite3.SQLITE_FULL:
			return "make room on the disk: what is pending goes in then", ErrFull
		case sqlite3.SQLITE_IOERR:
			return "look at the disk and the system's log", ErrIO
		case sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED:
			return "another process has it locked: try again", ErrBusy
		case sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB:
			return "go back to a copy of it, or have soakline book check save what can be read", ErrDamaged
		case sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_PERM, sqlite3.SQLITE_AUTH:
			return "its folder must be writable for the user who runs this", ErrDenied
		case sqlite3.SQLITE_CONSTRAINT, sqlite3.SQLITE_MISMATCH, sqlite3.SQLITE_TOOBIG, sqlite3.SQLITE_RANGE:
			return "", ErrInvalid
		}
	}
	switch {
	case errors.Is(err, ErrDamaged):
		return "soakline book check names all that is wrong and can save the rest", ErrDamaged
	case errors.Is(err, fs.ErrNotExist):
		return "", ErrAbsent
	case errors.Is(err, fs.ErrPermission):
		return "its folder must be writable for the user who runs this", ErrDenied
	case errors.Is(err, context.Canceled), errors.Is(err, context.DeadlineExceeded):
		return "", ErrOther
	}
	return "", ErrOther
}

// damage is a part of the book that cannot be what was written; it is ErrDamaged.
type damage struct{ error }

// Is makes it ErrDamaged.
func (damage) Is(target error) bool { return target == ErrDamaged }

// Unwrap gives what is wrong with it.
func (d damage) Unwrap() error { return d.error }

// isUnique tells whether err says that a unique key is taken.
func isUnique(err error) bool {
	e, ok := errors.AsType[*sqlite.Error](err)
	return ok && (e.Code() == sqlite3.SQLITE_CONSTRAINT_UNIQUE || e.Code() == sqlite3.SQLITE_CONSTRAINT_PRIMARYKEY)
}

// isForeign tells whether err says that something referred to is not there.
func isForeign(err error) bool {
	e, ok := errors.AsType[*sqlite.Error](err)
	return ok && e.Code() == sqlite3.SQLITE_CONSTRAINT_FOREIGNKEY
}
