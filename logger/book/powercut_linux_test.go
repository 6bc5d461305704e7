//go:build linux && (amd64 || arm64) && !race

package book

import (
	"math/rand/v2"
	"path/filepath"
	"testing"
	"time"
)

// recorded writes numbered readings in commits of random size through the recorder,
// the log being folded in often, and returns all that happened to the files.
func recorded(t *testing.T, random *rand.Rand) []fileOp {
	t.Helper()
	r := useRecorder(t)
	b, err := Open(t.Context(), filepath.Join(t.TempDir(), "bench.book"), Options{Program: "soakline test", vfs: recorderName})
	must(t, err)
	_, err = b.writing.ExecContext(t.Context(), `PRAGMA wal_autocheckpoint = 30`)
	must(t, err)
	j := newJournal()
	r.promise(-1)
	for next := 0; next < 25_000; {
		var readings []TaggedReading
		for range 1 + random.IntN(300) {
			readings = append(readings, numbered(next))
			next++
		}
		_, err := b.store(t.Context(), &batch{readings: readings}, j)
		must(t, err)
		r.promise(next - 1)
	}
	must(t, b.Close())
	return r.ops
}

// TestPowerCut plays power cuts at random moments of a recorded run, with writes
// lost and torn that were not forced to the disk. Each time the book is whole and
// holds all that a commit had promised, an unbroken run, nothing twice.
func TestPowerCut(t *testing.T) {
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	random := rand.New(rand.NewPCG(seed, 0))
	ops := recorded(t, random)
	begun := 0
	for ops[begun].kind != opPromise { // the book is being made
		begun++
	}
	for range many(t, "BOOK_POWERCUTS", 25) {
		n := begun + 1 + random.IntN(len(ops)-begun)
		d, promised := cut(ops, n, random, func(int) bool { return false })
		path := d.write(t)
		checkWhole(t, path, promised)
		checkClean(t, path)
		if t.Failed() {
			t.Fatalf("after change %d of %d", n, len(ops))
		}
	}
}

// TestLostSync: a disk that acknowledges a sync of the log without doing it can
// lose the commits since, but no more than those from there on: what is left is an
// unbroken run, nothing twice or torn.
func TestLostSync(t *testing.T) {
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	random := rand.New(rand.NewPCG(seed, 0))
	ops := recorded(t, random)
	var syncs []int
	for i, op := range ops {
		if op.kind == opSync && filepath.Ext(op.file) == ".book-wal" && i > len(ops)/10 {
			syncs = append(syncs, i)
		}
	}
	lost := 0
	for range many(t, "BOOK_POWERCUTS", 25) {
		at := syncs[random.IntN(len(syncs))]
		n := at + 1 + random.IntN(8) // soon after, before another sync hides it
		n = min(n, len(ops))
		d, promised := cut(ops, n, random, func(i int) bool { return i == at })
		path := d.write(t)
		_, before := cut(ops, at, random, func(int) bool { return false })
		have := checkWhole(t, path, before)
		checkClean(t, path)
		if have <= promised {
			lost++
		}
		if t.Failed() {
			t.Fatalf("sync %d of %d, cut at %d", at, len(ops), n)
		}
	}
	if lost == 0 {
		t.Error("no sync that was not done made a difference: the simulation does nothing")
	}
}

// TestCacheLost: a disk that acknowledges every sync and writes in order, but loses
// all from some moment on, leaves the book as it was at that moment.
func TestCacheLost(t *testing.T) {
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	random := rand.New(rand.NewPCG(seed, 0))
	ops := recorded(t, random)
	for range many(t, "BOOK_POWERCUTS", 10) {
		n := len(ops)/10 + random.IntN(len(ops)*9/10)
		d, promised := disk{}, -1
		for _, op := range ops[:n] {
			d.apply(op, nil)
			if op.kind == opPromise {
				promised = op.promised
			}
		}
		path := d.write(t)
		checkWhole(t, path, promised)
		checkClean(t, path)
	}
}
