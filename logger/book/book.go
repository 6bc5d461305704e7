package book

import (
	"context"
	"database/sql"
	"errors"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/gofrs/flock"
)

// Options is how a book is opened.
type Options struct {
	// ReadOnly opens an existing book beside a process that writes to it.
	ReadOnly bool
	// Beside opens an existing book of the newest form for upkeep (Thin, Shrink) while
	// another process may be writing readings to it: each waits for the other's
	// transactions. No Writer may be made for it.
	Beside bool
	// Program names this program and its version in the book ("soakline 0.3.0"),
	// so that an older program can say which one to use.
	Program string
	// Now is the clock for entries that carry no time of their own; nil is time.Now.
	Now func() time.Time

	// vfs names the way to files; tests put faults there. Empty is the system's.
	vfs string
}

// Book is an open book. Its methods may be called from any goroutine. What writes
// commits before it returns; readings go through a Writer.
type Book struct {
	path    string
	options Options
	lock    *flock.Flock // nil when opened for reading only
	writing *sql.DB      // one connection; nil when opened for reading only
	reading *sql.DB
	asked   statements
	watched watched
}

// Open opens the book at path, creates it if there is none, and migrates an older
// one forward after keeping a copy of it. It starts nothing. Its errors are
// *Error: ErrHeld, ErrNewer, ErrNotBook, ErrFolder, ErrAbsent, ErrDamaged,
// ErrDenied or, for a book of an older form opened for reading only, ErrOlder.
func Open(ctx context.Context, path string, options Options) (*Book, error) {
	return open(ctx, path, options, shipped())
}

func open(ctx context.Context, path string, options Options, steps []migration) (*Book, error) {
	if options.Now == nil {
		options.Now = time.Now
	}
	path, err := onePath(path)
	if err != nil {
		return nil, failure(path, "open", err)
	}
	b := &Book{path: path, options: options}
	if err := b.openFiles(ctx, steps); err != nil {
		return nil, errors.Join(err, b.Close())
	}
	return b, nil
}

// onePath is the path that all names of a book lead to, so that they share a lock.
func onePath(path string) (string, error) {
	absolute, err := filepath.Abs(path)
	if err != nil {
		return path, err
	}
	if real, err := filepath.EvalSymlinks(absolute); err == nil {
		return real, nil
	}
	return absolute, nil // there is nothing yet, or inspect says what is wrong
}

// openFiles goes from the outside in: file, lock, connections, form.
func (b *Book) openFiles(ctx context.Context, steps []migration) error {
	if err := inspect(b.path, b.options.ReadOnly || b.options.Beside); err != nil {
		return err
	}
	if b.options.ReadOnly {
		return b.openReading(ctx, steps)
	}
	if b.options.Beside {
		return b.openBeside(ctx, steps)
	}
	var err error
	if b.lock, err = lockFor(b.path); err != nil {
		return err
	}
	if err := create(b.path); err != nil {
		return err
	}
	if err := b.connectWriting(); err != nil {
		return err
	}
	if err := b.migrate(ctx, steps); err != nil {
		return err
	}
	return b.connectReading()
}

// openBeside takes no lock: the database's own keeps transactions apart.
func (b *Book) openBeside(ctx context.Context, steps []migration) error {
	if err := b.connectWriting(); err != nil {
		return err
	}
	if err := b.checkForm(ctx, b.writing, steps); err != nil {
		return err
	}
	return b.connectReading()
}

func (b *Book) connectWriting() (err error) {
	if b.writing, err = b.connect("_txlock=immediate", "_pragma=foreign_keys(1)"); err != nil {
		return b.fail("open", err)
	}
	b.writing.SetMaxOpenConns(1)
	return nil
}

func (b *Book) connectReading() (err error) {
	if b.reading, err = b.connect("_query_only=1"); err != nil {
		return b.fail("open", err)
	}
	b.reading.SetMaxOpenConns(maxReaders)
	b.reading.SetMaxIdleConns(maxReaders)
	return b.watch()
}

// maxReaders bounds the reading connections.
const maxReaders = 4

// smallCache bounds the pages that a connection keeps to 512 KiB, a quarter of what is
// usual: a block is read once, and what summaries are read again fits.
const smallCache = "_pragma=cache_size(-512)"

// openReading opens without the right to write. A book in a folder that cannot be
// written, with no log beside it, is opened as one that does not change: there is
// no other way to read a write-ahead-logged file there.
func (b *Book) openReading(ctx context.Context, steps []migration) error {
	var err error
	if b.reading, err = b.connect("mode=ro", "_query_only=1"); err != nil {
		return b.fail("open", err)
	}
	err = b.checkForm(ctx, b.reading, steps)
	if !errors.Is(err, ErrDenied) || fileSize(b.path+"-wal") > 0 {
		return err
	}
	_ = b.reading.Close() // nothing was written through it
	if b.reading, err = b.connect("mode=ro", "immutable=1", "_query_only=1"); err != nil {
		return b.fail("open", err)
	}
	return b.checkForm(ctx, b.reading, steps)
}

func (b *Book) connect(parameters ...string) (*sql.DB, error) {
	parameters = append(parameters, smallCache)
	if b.options.vfs != "" {
		parameters = append(parameters, "vfs="+b.options.vfs)
	}
	return connect(b.path, parameters...)
}

// connect makes a handle with the settings that every connection needs: waiting
// for locks, full synchronisation (on macOS down to the medium).
func connect(path string, parameters ...string) (*sql.DB, error) {
	slashed := filepath.ToSlash(path)
	if !strings.HasPrefix(slashed, "/") {
		slashed = "/" + slashed // C:/… on Windows
	}
	parameters = append(parameters,
		"_pragma=busy_timeout(5000)", "_pragma=synchronous(FULL)", "_pragma=fullfsync(1)",
		"_pragma=checkpoint_fullfsync(1)")
	return sql.Open("sqlite", "file://"+(&url.URL{Path: slashed}).EscapedPath()+"?"+strings.Join(parameters, "&"))
}

// create makes an empty file that only its owner can read; what SQLite puts
// beside it takes over the mode.
func create(path string) error {
	file, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o600) // #nosec G304 -- the user names the book
	if err != nil {
		return failure(path, "open", err)
	}
	return failure(path, "open", file.Close())
}

// Path returns the absolute path of the book.
func (b *Book) Path() string { return b.path }

// Program names the program that has the book open, with its version.
func (b *Book) Program() string { return b.options.Program }

// ReadOnly tells whether the book was opened for reading only.
func (b *Book) ReadOnly() bool { return b.options.ReadOnly }

// Close folds the log into the book and lets go of the files. A Writer must have
// ended before.
func (b *Book) Close() error {
	var errs []error
	errs = append(errs, b.fail("close", b.asked.close()))
	if b.reading != nil {
		errs = append(errs, b.fail("close", b.reading.Close()))
	}
	if b.writing != nil {
		errs = append(errs, b.fail("close", b.writing.Close()))
	}
	if b.lock != nil {
		errs = append(errs, b.fail("close", b.lock.Unlock()))
	}
	return errors.Join(errs...)
}

// write runs f in one transaction of the writing connection.
func (b *Book) write(ctx context.Context, doing string, f func(*sql.Tx) error) error {
	if b.writing == nil {
		return &Error{Path: b.path, Doing: doing, Kind: ErrReadOnly}
	}
	tx, err := b.writing.BeginTx(ctx, nil)
	if err != nil {
		return b.fail(doing, err)
	}
	if err := b.there(doing); err != nil {
		_ = tx.Rollback() // nothing was written
		return err
	}
	if err := f(tx); err != nil {
		_ = tx.Rollback() // the first error is the one that tells
		return b.fail(doing, err)
	}
	return b.fail(doing, tx.Commit())
}

// now is the clock, to the microsecond that the book keeps.
func (b *Book) now() time.Time { return micro(b.options.Now()) }
