//go:build unix

package book

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
)

func init() { parts["fill"] = fillUp }

// fillUp writes into the book until the file may grow no more (RLIMIT_FSIZE), lifts
// the limit, and checks that nothing is missing.
func fillUp(path string, limit int) error {
	ctx := context.Background()
	b, err := Open(ctx, path, Options{Program: "soakline test"})
	if err != nil {
		return err
	}
	var unlimited syscall.Rlimit
	if err := syscall.Getrlimit(syscall.RLIMIT_FSIZE, &unlimited); err != nil {
		return err
	}
	limited := unlimited
	limited.Cur = uint64(limit)
	if err := syscall.Setrlimit(syscall.RLIMIT_FSIZE, &limited); err != nil {
		return err
	}
	running, stop := context.WithCancel(ctx)
	defer stop()
	ended := make(chan error, 1)
	w := NewWriter(b, WriterOptions{CommitEvery: time.Hour, Bound: 5000})
	go func() { ended <- w.Run(running) }()
	appended, err := fillAndHold(ctx, w)
	if err != nil {
		return err
	}
	if err := syscall.Setrlimit(syscall.RLIMIT_FSIZE, &unlimited); err != nil {
		return err
	}
	if err := w.Flush(ctx); err != nil {
		return fmt.Errorf("with room again: %w", err)
	}
	stop()
	fmt.Println("appended", appended)
	return errors.Join(<-ended, b.Close())
}

// fillAndHold appends until a flush fails, then 700 readings more.
func fillAndHold(ctx context.Context, w *Writer) (appended int, err error) {
	var failed error
	for failed == nil {
		for range 500 {
			if err := w.Append(numbered(appended)); err != nil {
				return 0, err
			}
			appended++
		}
		failed = w.Flush(ctx)
	}
	if !errors.Is(failed, ErrFull) && !errors.Is(failed, ErrIO) {
		return 0, fmt.Errorf("a full disk is reported as: %w", failed)
	}
	fmt.Println("held:", failed)
	for range 700 {
		if err := w.Append(numbered(appended)); err != nil {
			return 0, err
		}
		appended++
	}
	if h := w.Health(); w.Flush(ctx) == nil || h.Pending != 1200 {
		return 0, fmt.Errorf("while full: %+v", h)
	}
	return appended, nil
}

// TestFullDisk: a real refusal by the system to make a file longer. What was
// committed stays, what waits goes in when there is room, all of it once.
func TestFullDisk(t *testing.T) {
	path := filepath.Join(t.TempDir(), "bench.book")
	text, err := child(t, "fill", path, 1_000_000).Output()
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("%s", text)
	_, number, _ := strings.Cut(string(text), "appended ")
	var appended int
	if _, err := fmt.Sscan(number, &appended); err != nil {
		t.Fatal(err)
	}
	if n := checkWhole(t, path, 0); n != appended {
		t.Errorf("%d readings in the book, want %d", n, appended)
	}
}
