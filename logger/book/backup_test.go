package book

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"testing"
	"time"
)

// TestBackupWhileWriting: copies made while a writer is at work are whole, and hold
// an unbroken run of its readings.
func TestBackupWhileWriting(t *testing.T) {
	b := openNew(t)
	w := NewWriter(b, WriterOptions{CommitEvery: time.Millisecond})
	stop := running(t, w)
	folder := t.TempDir()
	ctx, cancel := context.WithCancel(t.Context())
	written := make(chan error, 1)
	go func() {
		var err error
		for i := 0; err == nil && ctx.Err() == nil; i++ {
			if err = w.Append(numbered(i)); err == nil && i%200 == 199 {
				err = w.Flush(context.WithoutCancel(ctx))
			}
		}
		written <- err
	}()
	for _, name := range []string{"one.book", "two.book"} {
		path := filepath.Join(folder, name)
		size, err := b.Backup(t.Context(), path, nil)
		if err != nil || size != fileSize(path) || size == 0 {
			t.Fatal(size, err)
		}
		if n := checkWhole(t, path, -1); n == 0 && name == "two.book" {
			t.Error("the second copy has no readings")
		}
	}
	cancel()
	must(t, errors.Join(<-written, stop()))
	if _, err := b.Backup(t.Context(), filepath.Join(folder, "one.book"), nil); !errors.Is(err, ErrTaken) {
		t.Errorf("onto an existing file: %v", err)
	}
	if left, _ := filepath.Glob(filepath.Join(folder, "*unfinished*")); len(left) > 0 {
		t.Errorf("left over: %v", left)
	}
}

// TestBackupOfADamagedBook: a copy that is not whole gets no name.
func TestBackupOfADamagedBook(t *testing.T) {
	b := fullBook(t)
	_, err := b.writing.ExecContext(t.Context(), `DELETE FROM block_data WHERE id = 2`)
	must(t, err)
	path := filepath.Join(t.TempDir(), "copy.book")
	if _, err := b.Backup(t.Context(), path, nil); !errors.Is(err, ErrDamaged) {
		t.Errorf("%v, want %v", err, ErrDamaged)
	}
	if left, _ := filepath.Glob(path + "*"); len(left) > 0 {
		t.Errorf("left over: %v", left)
	}
	if _, err := b.Backup(t.Context(), filepath.Join(t.TempDir(), "no", "copy.book"), nil); !errors.Is(err, ErrAbsent) {
		t.Errorf("into a folder that is not there: %v", err)
	}
}

// TestVacuumWhileWriting: room goes back to the disk while a writer and a reader
// are at work, and nothing is lost.
func TestVacuumWhileWriting(t *testing.T) {
	b := openNew(t)
	write(t, b, newWorkload(3).read(200_000)...)
	_, err := b.writing.ExecContext(t.Context(), `PRAGMA foreign_keys = 0; DELETE FROM block WHERE id % 2 = 0; DELETE FROM block_data WHERE id % 2 = 0; PRAGMA wal_checkpoint(TRUNCATE)`)
	must(t, err)
	before, err := os.Stat(b.Path())
	must(t, err)
	kept, err := b.Count(t.Context(), Filter{})
	must(t, err)
	w := NewWriter(b, WriterOptions{CommitEvery: time.Millisecond})
	stop := running(t, w)
	for i := range 500 {
		must(t, w.Append(numbered(i)))
		if i == 250 {
			must(t, b.Vacuum(t.Context()))
		}
	}
	must(t, stop())
	after, err := os.Stat(b.Path())
	must(t, err)
	if after.Size() >= before.Size()*4/5 {
		t.Errorf("%d bytes before, %d after", before.Size(), after.Size())
	}
	if n, err := b.Count(t.Context(), Filter{}); n != kept+500 || err != nil {
		t.Errorf("%d readings (%v), want %d", n, err, kept+500)
	}
	if problems := checked(t, b); len(problems) > 0 {
		t.Error(problems)
	}
}
