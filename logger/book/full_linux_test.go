package book

import (
	"context"
	"errors"
	"path/filepath"
	"testing"
	"time"

	"golang.org/x/sys/unix"
)

// smallDisk is a file system of its own of so many bytes, and how to make it larger.
func smallDisk(t *testing.T, size string) (dir string, enlarge func(size string)) {
	t.Helper()
	dir = t.TempDir()
	mount := func(flags uintptr, size string) error {
		return unix.Mount("soakline-test", dir, "tmpfs", flags|unix.MS_NOSUID|unix.MS_NODEV, "mode=0700,size="+size)
	}
	if err := mount(0, size); err != nil {
		t.Skipf("no right to mount a small disk here (%v); TestFullDisk tries it with files that may grow no more", err)
	}
	t.Cleanup(func() { must(t, unix.Unmount(dir, 0)) })
	return dir, func(size string) { must(t, mount(unix.MS_REMOUNT, size)) }
}

// TestFullFileSystem: a file system without room. What was committed can be read
// meanwhile; what waits is held up to the bound and not beyond, where it is counted; all
// that was held goes in when there is room, once.
func TestFullFileSystem(t *testing.T) {
	dir, enlarge := smallDisk(t, "700k")
	path := filepath.Join(dir, "bench.book")
	b, err := Open(t.Context(), path, Options{Program: "soakline test"})
	must(t, err)
	const bound = 5000
	w := NewWriter(b, WriterOptions{CommitEvery: time.Hour, Bound: bound})
	stop := running(t, w)
	ctx := context.WithoutCancel(t.Context())
	appended, err := fillAndHold(ctx, w)
	must(t, err)
	if h := w.Health(); !errors.Is(h.Err, ErrFull) || h.FailingSince.IsZero() {
		t.Errorf("the writer says %v", h.Err)
	}
	committed := appended - w.Health().Pending
	kept := readAll(t, b, Filter{})
	if len(kept) != committed || committed == 0 {
		t.Errorf("%d readings can be read while the disk is full, want %d", len(kept), committed)
	}
	lost := 0
	for range bound {
		switch err := w.Append(numbered(appended)); {
		case err == nil:
			appended++
		case errors.Is(err, ErrQueueFull):
			lost++
		default:
			t.Fatal(err)
		}
	}
	if h := w.Health(); h.Pending != bound || lost == 0 || h.Lost[LostQueueFull] != uint64(lost) {
		t.Errorf("%d wait and %d were lost (%v), want %d to wait", h.Pending, lost, h.Lost, bound)
	}
	if w.Flush(ctx) == nil {
		t.Error("it went in without room")
	}
	enlarge("16m")
	must(t, w.Flush(ctx))
	if h := w.Health(); h.Pending != 0 || h.Err != nil || !h.FailingSince.IsZero() {
		t.Errorf("with room again: %+v", h)
	}
	must(t, errors.Join(stop(), b.Close()))
	if n := checkWhole(t, path, appended-1); n != appended {
		t.Errorf("%d readings in the book, want %d", n, appended)
	}
	again := openAt(t, path, Options{ReadOnly: true})
	losses, err := again.Losses(t.Context(), Filter{})
	count := 0
	for _, l := range losses {
		count += l.Count
	}
	if err != nil || count != lost {
		t.Errorf("the book says that %d were lost (%v), want %d", count, err, lost)
	}
	must(t, again.Close())
	checkClean(t, path)
}
