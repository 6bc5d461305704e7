//go:build linux && (amd64 || arm64) && !race

package book

import (
	"path/filepath"
	"testing"
	"time"
)

// TestSlowSync: the disk takes its time to promise that something is on it. Readings
// are taken at once meanwhile, it shows how long the commit has been under way and how
// much waits, and when the disk is done everything goes in.
func TestSlowSync(t *testing.T) {
	r := useRecorder(t)
	b, err := Open(t.Context(), filepath.Join(t.TempDir(), "bench.book"), Options{Program: "soakline test", vfs: recorderName})
	must(t, err)
	w := NewWriter(b, WriterOptions{CommitEvery: time.Hour, Bound: 100_000})
	stop := running(t, w)
	must(t, w.Append(numbered(0)))
	must(t, w.Flush(t.Context()))
	syncing, done := make(chan struct{}, 64), make(chan struct{})
	r.mu.Lock()
	r.beforeSync = func() { syncing <- struct{}{}; <-done }
	r.mu.Unlock()
	must(t, w.Append(numbered(1)))
	flushed := make(chan error, 1)
	go func() { flushed <- w.Flush(t.Context()) }()
	<-syncing
	const meanwhile = 20_000
	began := time.Now()
	for i := range meanwhile {
		must(t, w.Append(numbered(2+i)))
	}
	h := w.Health()
	if h.Pending != 1+meanwhile || h.CommittingSince.IsZero() || h.CommittingSince.After(began) || len(h.Lost) > 0 {
		t.Errorf("while the disk is busy: %+v", h)
	}
	close(done)
	must(t, <-flushed)
	must(t, w.Flush(t.Context()))
	if h := w.Health(); h.Pending != 0 || !h.CommittingSince.IsZero() || h.Written != 2+meanwhile {
		t.Errorf("when the disk is done: %+v", h)
	}
	must(t, stop())
	must(t, b.Close())
}
