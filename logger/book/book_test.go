package book

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"soakline/checks"
	"soakline/device"
	"soakline/device/scpi"
)

// begin is the moment at which the tests' bench was switched on.
var begin = time.Date(2026, 3, 14, 9, 26, 53, 589793000, time.UTC)

// rail is a series of the tests' bench.
var rail = Tag{
	Bench: "quay", Console: "Brambling 8", Unit: "B8-0147", TestPoint: "rail-5v", Instrument: "meter", Measure: device.DCVoltage,
}

// openNew opens a fresh book that is closed when the test ends.
func openNew(t testing.TB) *Book {
	t.Helper()
	return openAt(t, filepath.Join(t.TempDir(), "bench.book"), Options{})
}

func openAt(t testing.TB, path string, options Options) *Book {
	t.Helper()
	if options.Program == "" {
		options.Program = "soakline test"
	}
	if options.Now == nil {
		options.Now = func() time.Time { return begin }
	}
	b, err := Open(t.Context(), path, options)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := b.Close(); err != nil {
			t.Error(err)
		}
	})
	return b
}

// digits is a reading as an instrument sends it.
func digits(t testing.TB, tag Tag, after time.Duration, text string) TaggedReading {
	t.Helper()
	d, err := scpi.ParseDecimal(text)
	if err != nil {
		t.Fatal(err)
	}
	return TaggedReading{Tag: tag, Reading: device.Reading{
		Measure: tag.Measure, Value: d.Float64(), Digits: d, At: begin.Add(after), StandardUncertainty: 0.0007,
	}}
}

// write puts readings into a book in one batch.
func write(t testing.TB, b *Book, readings ...TaggedReading) outcome {
	t.Helper()
	out, err := b.store(t.Context(), &batch{readings: readings}, newJournal())
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// readAll gathers what a query streams.
func readAll(t testing.TB, b *Book, filter Filter) []TaggedReading {
	t.Helper()
	var all []TaggedReading
	for r, err := range b.Readings(context.WithoutCancel(t.Context()), filter) {
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, r)
	}
	return all
}

func addUnit(t testing.TB, b *Book, id checks.UnitID) {
	t.Helper()
	if err := b.AddUnit(t.Context(), Unit{ID: id, Console: "Brambling 8"}); err != nil {
		t.Fatal(err)
	}
}

// TestOpenRefuses: each thing that is no book gives one line that says so.
func TestOpenRefuses(t *testing.T) {
	tests := []struct {
		name string
		make func(t *testing.T, path string)
		want error
		text string
	}{
		{"a folder", func(t *testing.T, path string) { must(t, os.Mkdir(path, 0o700)) }, ErrFolder, "is a folder, not a book"},
		{"text", func(t *testing.T, path string) {
			must(t, os.WriteFile(path, []byte(strings.Repeat("not a book\n", 100)), 0o600))
		}, ErrNotBook, "does not begin like an SQLite file"},
		{"a few bytes", func(t *testing.T, path string) { must(t, os.WriteFile(path, []byte("SQ"), 0o600)) }, ErrNotBook, "does not begin"},
		{"only the start", func(t *testing.T, path string) { must(t, os.WriteFile(path, []byte(magic+"\x10\x00"), 0o600)) }, ErrDamaged, "cut short after 18 bytes"},
		{"cut in the middle", func(t *testing.T, path string) {
			fill(t, path, Options{})
			must(t, os.Truncate(path, fileSize(path)/2))
		}, ErrDamaged, "cut short or overwritten"},
		{"cut in the first page", func(t *testing.T, path string) {
			fill(t, path, Options{})
			must(t, os.Truncate(path, 700))
		}, ErrDamaged, "700 bytes is cut short or overwritten"},
		{"another program's file", func(t *testing.T, path string) {
			must(t, create(path))
			db, err := connect(path)
			must(t, err)
			_, err = db.ExecContext(t.Context(), `CREATE TABLE shopping (item TEXT)`)
			must(t, err)
			must(t, db.Close())
		}, ErrNotBook, "SQLite file of another program"},
	}
	for _, test := range tests {
		for _, readOnly := range []bool{false, true} {
			t.Run(test.name, func(t *testing.T) {
				path := filepath.Join(t.TempDir(), "bench.book")
				test.make(t, path)
				b, err := Open(t.Context(), path, Options{ReadOnly: readOnly})
				if b != nil {
					t.Fatal("it was opened")
				}
				checkRefusal(t, err, test.want, path, test.text)
			})
		}
	}
}

// checkRefusal wants one line that names the book, is of a kind, and says text.
func checkRefusal(t *testing.T, err, kind error, path, text string) {
	t.Helper()
	if !errors.Is(err, kind) {
		t.Fatalf("error %v, want %v", err, kind)
	}
	if e, ok := errors.AsType[*Error](err); !ok || e.Path != path {
		t.Errorf("%v does not name %s", err, path)
	}
	if line := err.Error(); !strings.Contains(line, text) || strings.Contains(line, "\n") {
		t.Errorf("%q is not one line with %q", line, text)
	}
}

func must(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// fill makes a book with a few readings at path and closes it.
func fill(t *testing.T, path string, options Options) {
	t.Helper()
	options.Program = "soakline test"
	b, err := Open(t.Context(), path, options)
	must(t, err)
	for i := range 4 {
		write(t, b, digits(t, rail, time.Duration(i)*time.Second, "5.0121"))
	}
	must(t, b.Close())
}

func TestOpenAbsent(t *testing.T) {
	folder := t.TempDir()
	_, err := Open(t.Context(), filepath.Join(folder, "none.book"), Options{ReadOnly: true})
	checkRefusal(t, err, ErrAbsent, filepath.Join(folder, "none.book"), "no such book")
	_, err = Open(t.Context(), filepath.Join(folder, "no", "bench.book"), Options{})
	checkRefusal(t, err, ErrAbsent, filepath.Join(folder, "no", "bench.book"), "make the folder first")
}

func TestNewBookIsPrivate(t *testing.T) {
	b := openNew(t)
	write(t, b, digits(t, rail, 0, "5.0121"))
	for _, suffix := range []string{"", "-wal", "-shm", ".lock"} {
		info, err := os.Stat(b.Path() + suffix)
		must(t, err)
		if info.Mode().Perm() != 0o600 {
			t.Errorf("%s has mode %v, want 0600", info.Name(), info.Mode())
		}
	}
}

// TestSecondWriterIsTold: while one holds the book another may only read, and sees
// what is committed.
func TestSecondWriterIsTold(t *testing.T) {
	first := openNew(t)
	_, err := Open(t.Context(), first.Path(), Options{})
	checkRefusal(t, err, ErrHeld, first.Path(), "another process writes to it")
	second := openAt(t, first.Path(), Options{ReadOnly: true})
	write(t, first, digits(t, rail, 0, "5.0121"))
	if got := readAll(t, second, Filter{}); len(got) != 1 {
		t.Errorf("the reader sees %d readings, want 1", len(got))
	}
	if err := second.AddUnit(t.Context(), Unit{ID: "x", Console: "y"}); !errors.Is(err, ErrReadOnly) {
		t.Errorf("writing through it: %v, want %v", err, ErrReadOnly)
	}
}

func TestBookSurvivesReopening(t *testing.T) {
	path := filepath.Join(t.TempDir(), "odd name ?#%20.book")
	fill(t, path, Options{})
	if _, err := os.Stat(path); err != nil {
		t.Fatal(err)
	}
	b := openAt(t, path, Options{})
	if got := readAll(t, b, Filter{}); len(got) != 4 || got[0] != digits(t, rail, 0, "5.0121") {
		t.Errorf("got %v", got)
	}
}

// TestOneLockForAllNames: a link to the book is the book.
func TestOneLockForAllNames(t *testing.T) {
	b := openNew(t)
	other := filepath.Join(t.TempDir(), "link.book")
	must(t, os.Symlink(b.Path(), other))
	_, err := Open(t.Context(), other, Options{})
	checkRefusal(t, err, ErrHeld, b.Path(), "another process writes to it")
}

// TestBusyBookIsHeld: a program that does not know our lock has locked the file.
func TestBusyBookIsHeld(t *testing.T) {
	b := openNew(t)
	_, err := b.writing.ExecContext(t.Context(), `PRAGMA busy_timeout = 1`)
	must(t, err)
	stranger, err := connect(b.Path(), "_txlock=immediate")
	must(t, err)
	defer stranger.Close()
	tx, err := stranger.BeginTx(t.Context(), nil)
	must(t, err)
	w := NewWriter(b, WriterOptions{CommitEvery: time.Hour})
	stop := running(t, w)
	must(t, w.Append(digits(t, rail, 0, "5")))
	if err := w.Flush(t.Context()); !errors.Is(err, ErrBusy) {
		t.Errorf("%v, want %v", err, ErrBusy)
	}
	must(t, tx.Rollback())
	must(t, stop())
	if got := readAll(t, b, Filter{}); len(got) != 1 {
		t.Errorf("%d readings, want 1", len(got))
	}
}

// TestOverwrittenPages: what is damaged in the middle is said when it is read.
func TestOverwrittenPages(t *testing.T) {
	path := filepath.Join(t.TempDir(), "bench.book")
	b, err := Open(t.Context(), path, Options{})
	must(t, err)
	write(t, b, newWorkload(5).read(60000)...)
	must(t, b.Close())
	file, err := os.OpenFile(path, os.O_RDWR, 0)
	must(t, err)
	_, err = file.WriteAt(make([]byte, 64<<10), fileSize(path)*3/4)
	must(t, errors.Join(err, file.Close()))
	b = openAt(t, path, Options{})
	var last error
	for _, err := range b.Readings(t.Context(), Filter{}) {
		last = err
	}
	checkRefusal(t, last, ErrDamaged, path, "read readings")
}
