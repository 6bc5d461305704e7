package book

import (
	"database/sql"
	"errors"
	"os"
	"path/filepath"
	"testing"
	"time"
)

// TestFileLeavesUnderTheBook removes, renames, replaces and cuts the file of an open
// book. Commits fail with words for a person, the readings wait, and where the file
// comes back they go in.
func TestFileLeavesUnderTheBook(t *testing.T) {
	for _, row := range []struct {
		name    string
		want    error
		spoil   func(path, aside string) error
		restore func(path, aside string) error // nil: it does not come back
	}{
		{"renamed", ErrAbsent, os.Rename, func(path, aside string) error { return os.Rename(aside, path) }},
		{"removed", ErrAbsent, func(path, _ string) error { return os.Remove(path) }, nil},
		{"replaced", ErrNotBook,
			func(path, aside string) error {
				return errors.Join(os.Rename(path, aside), os.WriteFile(path, []byte("another file"), 0o600))
			},
			func(path, aside string) error { return os.Rename(aside, path) }},
		{"cut short", ErrDamaged, func(path, _ string) error { return os.Truncate(path, 1000) }, nil},
		{"emptied", ErrDamaged, func(path, _ string) error { return os.Truncate(path, 0) }, nil},
	} {
		t.Run(row.name, func(t *testing.T) {
			dir := t.TempDir()
			path, aside := filepath.Join(dir, "bench.book"), filepath.Join(dir, "aside.book")
			b, err := Open(t.Context(), path, Options{})
			must(t, err)
			t.Cleanup(func() { _ = b.Close() }) // a spoilt book may complain once more
			w := NewWriter(b, WriterOptions{CommitEvery: time.Hour})
			stop := running(t, w)
			for i := range 6 {
				must(t, w.Append(digits(t, rail, time.Duration(i)*time.Second, "5.0121")))
			}
			must(t, w.Flush(t.Context()))
			must(t, row.spoil(path, aside))
			must(t, w.Append(digits(t, rail, 10*time.Second, "5.0130")))
			if err := w.Flush(t.Context()); !errors.Is(err, row.want) {
				t.Errorf("a commit after it: %v, want %v", err, row.want)
			}
			if h := w.Health(); h.Pending != 1 || h.Err == nil || h.FailingSince.IsZero() {
				t.Errorf("health %+v", h)
			}
			if row.restore == nil {
				if err := stop(); err == nil {
					t.Error("the last commit failed, and nobody is told")
				}
				return
			}
			must(t, row.restore(path, aside))
			must(t, w.Flush(t.Context()))
			must(t, stop())
			if got := readAll(t, b, Filter{}); len(got) != 7 {
				t.Errorf("%d readings in the book, want 7", len(got))
			}
		})
	}
}

// TestVacuumIsNoCut: a book that gives room back goes on.
func TestVacuumIsNoCut(t *testing.T) {
	b := openNew(t)
	must(t, b.write(t.Context(), "fill", func(tx *sql.Tx) error {
		_, err := tx.Exec(`CREATE TABLE filler AS SELECT randomblob(3000000) AS filling`)
		return err
	}))
	must(t, b.Vacuum(t.Context()))
	must(t, b.write(t.Context(), "drop", func(tx *sql.Tx) error {
		_, err := tx.Exec(`DROP TABLE filler`)
		return err
	}))
	before := fileSize(b.Path())
	must(t, b.Vacuum(t.Context()))
	if after := fileSize(b.Path()); after >= before {
		t.Fatalf("%d bytes became %d: nothing to try here", before, after)
	}
	must(t, b.AddUnit(t.Context(), Unit{ID: "B8-0147", Console: "Brambling 8"}))
}
