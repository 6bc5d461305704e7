package book

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"go.uber.org/goleak"

	"soakline/checks"
	"soakline/device"
)

// running starts a writer and returns a function that ends it and waits.
func running(t *testing.T, w *Writer) (stop func() error) {
	t.Helper()
	ctx, cancel := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() { ended <- w.Run(ctx) }()
	return func() error { cancel(); return <-ended }
}

func TestWriterKeepsWhatItTook(t *testing.T) {
	b := openNew(t)
	defer goleak.VerifyNone(t, goleak.IgnoreCurrent())
	w := NewWriter(b, WriterOptions{})
	stop := running(t, w)
	for i := range 5 {
		must(t, w.Append(digits(t, rail, time.Duration(i)*time.Second, "5.0121")))
	}
	must(t, w.Flush(t.Context()))
	if n, err := b.Count(t.Context(), Filter{}); n != 5 || err != nil {
		t.Errorf("after the flush the book has %d readings (%v), want 5", n, err)
	}
	must(t, w.Append(digits(t, rail, time.Minute, "5.0122")))
	must(t, stop())
	if n, err := b.Count(t.Context(), Filter{}); n != 6 || err != nil {
		t.Errorf("after the stop the book has %d readings (%v), want 6", n, err)
	}
	if err := w.Append(digits(t, rail, time.Hour, "5")); !errors.Is(err, ErrStopped) {
		t.Errorf("after the stop: %v, want %v", err, ErrStopped)
	}
	if err := w.Flush(t.Context()); !errors.Is(err, ErrStopped) {
		t.Errorf("flush after the stop: %v, want %v", err, ErrStopped)
	}
	if h := w.Health(); h.Written != 6 || h.Pending != 0 || h.Lost[LostStopped] != 1 || h.Err != nil {
		t.Errorf("health %+v", h)
	}
}

// TestWriterCommitsByTheClock: nobody flushes, and a reading waits no longer than
// the interval. The store is replaced, because disk I/O does not count as blocked
// in a bubble.
func TestWriterCommitsByTheClock(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		w := NewWriter(&Book{}, WriterOptions{CommitEvery: 250 * time.Millisecond})
		var stored []time.Time
		w.store = func(context.Context, *batch, *journal) (outcome, error) {
			stored = append(stored, time.Now())
			return outcome{}, nil
		}
		start := time.Now()
		stop := running(t, w)
		time.Sleep(600 * time.Millisecond)
		must(t, w.Append(digits(t, rail, 0, "5")))
		time.Sleep(time.Second)
		must(t, stop())
		if len(stored) != 1 || stored[0].Sub(start) != 750*time.Millisecond {
			t.Errorf("stored at %v after %v, want once at 750ms", stored, start)
		}
	})
}

// TestWriterHolds: while commits fail the readings wait up to the bound, what is
// beyond is counted and put on record, and all goes in, once, when commits succeed
// again.
func TestWriterHolds(t *testing.T) {
	faults := []struct {
		name string
		// store is what happens to a batch while the fault lasts.
		store func(b *Book) func(context.Context, *batch, *journal) (outcome, error)
	}{
		{"nothing is written", func(b *Book) func(context.Context, *batch, *journal) (outcome, error) {
			return func(context.Context, *batch, *journal) (outcome, error) {
				return outcome{}, &Error{Path: b.path, Doing: "commit", Kind: ErrFull}
			}
		}},
		{"written, but the answer is an error", func(b *Book) func(context.Context, *batch, *journal) (outcome, error) {
			return func(ctx context.Context, bt *batch, j *journal) (outcome, error) {
				out, err := b.store(ctx, bt, j)
				return out, errors.Join(err, &Error{Path: b.path, Doing: "commit", Kind: ErrFull})
			}
		}},
	}
	for _, fault := range faults {
		t.Run(fault.name, func(t *testing.T) {
			b := openNew(t)
			var commits []Commit
			w := NewWriter(b, WriterOptions{Bound: 10, CommitEvery: time.Hour, Committed: func(c Commit) { commits = append(commits, c) }})
			w.store, w.nudgeAt = fault.store(b), -1
			stop := running(t, w)
			for i := range 6 {
				must(t, w.Append(digits(t, rail, time.Duration(i)*time.Second, "5.0121")))
			}
			if err := w.Flush(t.Context()); !errors.Is(err, ErrFull) {
				t.Fatalf("flush: %v, want %v", err, ErrFull)
			}
			appendBeyond(t, w)
			if h := w.Health(); h.Pending != 10 || h.Lost[LostQueueFull] != 3 || !errors.Is(h.Err, ErrFull) || h.FailingSince.IsZero() {
				t.Errorf("health while failing %+v", h)
			}
			must(t, stopAndSwap(w, stop, b))
			if got := readAll(t, b, Filter{}); len(got) != 10 {
				t.Errorf("%d readings in the book, want 10", len(got))
			}
			losses, err := b.Losses(t.Context(), Filter{})
			if err != nil || len(losses) != 1 || losses[0] != beyond {
				t.Errorf("losses %+v (%v), want %+v", losses, err, beyond)
			}
			if h := w.Health(); h.Err != nil || !h.FailingSince.IsZero() || h.Written != 10 {
				t.Errorf("health at the end %+v", h)
			}
			if len(commits) != 3 || commits[0].Err == nil || commits[2].Err != nil {
				t.Errorf("commits reported: %+v", commits)
			}
		})
	}
}

// beyond is the loss that appendBeyond makes.
var beyond = Loss{Tag: rail, From: begin.Add(10 * time.Second), To: begin.Add(12 * time.Second), Cause: LostQueueFull, Count: 3}

// appendBeyond takes a writer with 6 readings over its bound of 10.
func appendBeyond(t *testing.T, w *Writer) {
	t.Helper()
	for i := 6; i < 13; i++ {
		err := w.Append(digits(t, rail, time.Duration(i)*time.Second, "5.0121"))
		if want := i >= 10; want != errors.Is(err, ErrQueueFull) {
			t.Errorf("reading %d: %v", i, err)
		}
	}
}

// stopAndSwap ends the fault and the writer. Run's goroutine alone uses store, and
// it rests between flushes.
func stopAndSwap(w *Writer, stop func() error, b *Book) error {
	w.store = b.store
	return stop()
}

func TestWriterSaysWhatTheLastCommitLost(t *testing.T) {
	b := openNew(t)
	w := NewWriter(b, WriterOptions{})
	w.store = func(context.Context, *batch, *journal) (outcome, error) { return outcome{}, ErrIO }
	stop := running(t, w)
	must(t, w.Append(digits(t, rail, 0, "5")))
	err := stop()
	if !errors.Is(err, ErrIO) || !strings.Contains(err.Error(), "1 readings are lost") {
		t.Errorf("Run: %v", err)
	}
	if h := w.Health(); h.Lost[LostStopped] != 1 {
		t.Errorf("health %+v", h)
	}
}

func TestWriterRunsOnce(t *testing.T) {
	w := NewWriter(openNew(t), WriterOptions{})
	stop := running(t, w)
	must(t, w.Flush(t.Context()))
	if err := w.Run(t.Context()); err == nil {
		t.Error("a second Run was let in")
	}
	must(t, stop())
}

// TestWriterRefuses: what can never be kept is said and counted, and does not keep
// the rest waiting.
func TestWriterRefuses(t *testing.T) {
	b := openNew(t)
	var refused []error
	w := NewWriter(b, WriterOptions{Committed: func(c Commit) { refused = append(refused, c.Refused...) }})
	stop := running(t, w)
	wrong := digits(t, rail, 0, "5")
	wrong.Measure = device.Frequency
	if err := w.Append(wrong); !errors.Is(err, ErrInvalid) {
		t.Errorf("a measure that is not the tag's: %v", err)
	}
	late := digits(t, rail, 0, "5")
	late.At = time.Time{}
	if err := w.Append(late); !errors.Is(err, ErrInvalid) {
		t.Errorf("no time: %v", err)
	}
	must(t, w.PutExcursion(77, checks.Excursion{From: begin})) // no such soak
	must(t, w.Append(digits(t, rail, time.Second, "5")))
	must(t, stop())
	if len(refused) != 1 || !strings.Contains(refused[0].Error(), "excursion of soak 77") {
		t.Errorf("refused: %v", refused)
	}
	if n, err := b.Count(t.Context(), Filter{}); n != 1 || err != nil {
		t.Errorf("%d readings (%v), want 1", n, err)
	}
	if h := w.Health(); h.Lost[LostRefused] != 2 {
		t.Errorf("health %+v", h)
	}
}

func TestWriterCountsWhatGoesBack(t *testing.T) {
	b := openNew(t)
	w := NewWriter(b, WriterOptions{})
	stop := running(t, w)
	for _, second := range []int{5, 3, 5, 6, 4} {
		must(t, w.Append(digits(t, rail, time.Duration(second)*time.Second, fmt.Sprint(second))))
	}
	must(t, stop())
	if h := w.Health(); h.Backwards != 2 {
		t.Errorf("backwards %d, want 2", h.Backwards)
	}
	var order []float64
	for _, r := range readAll(t, b, Filter{}) {
		order = append(order, r.Value)
	}
	if fmt.Sprint(order) != "[3 4 5 5 6]" {
		t.Errorf("order %v", order)
	}
}

// TestNotesGoThroughTheWriter: events, excursions and gaps come with the readings.
func TestNotesGoThroughTheWriter(t *testing.T) {
	b, id := soaked(t)
	w := NewWriter(b, WriterOptions{})
	stop := running(t, w)
	event := Event{"quay", device.Event{Instrument: "meter", Kind: device.Silence, Text: "no answer for 2 s", At: begin}}
	excursion := someExcursion()
	gap := checks.Gap{Check: excursion.Check, From: begin, To: begin.Add(time.Second), Cause: "silent"}
	open := excursion
	open.To, open.Worst = time.Time{}, 5.27
	must(t, errors.Join(w.PutEvent(event), w.PutExcursion(id, open), w.PutExcursion(id, excursion), w.PutGap(id, gap)))
	must(t, stop())
	events, err := b.Events(t.Context(), "quay", time.Time{}, time.Time{})
	if err != nil || len(events) != 1 || events[0] != event {
		t.Errorf("events %+v (%v)", events, err)
	}
	excursions, err := b.Excursions(t.Context(), id)
	if err != nil || len(excursions) != 1 || excursions[0] != excursion {
		t.Errorf("excursions %+v (%v)", excursions, err)
	}
	gaps, err := b.Gaps(t.Context(), id)
	if err != nil || len(gaps) != 1 || gaps[0] != gap {
		t.Errorf("gaps %+v (%v)", gaps, err)
	}
}

// TestExcursionIsCommittedAtOnce: what may change a verdict does not wait for the clock,
// and takes the readings before it along.
func TestExcursionIsCommittedAtOnce(t *testing.T) {
	b, id := soaked(t)
	committed := make(chan Commit, 8)
	w := NewWriter(b, WriterOptions{CommitEvery: time.Hour, Committed: func(c Commit) { committed <- c }})
	stop := running(t, w)
	must(t, w.Append(digits(t, rail, 0, "5.31")))
	e := someExcursion()
	e.To = time.Time{}
	must(t, w.PutExcursion(id, e))
	if c := <-committed; c.Err != nil || c.Readings != 1 {
		t.Errorf("%+v", c)
	}
	if kept, err := b.Excursions(t.Context(), id); err != nil || len(kept) != 1 {
		t.Errorf("%v (%v)", kept, err)
	}
	must(t, stop())
}
