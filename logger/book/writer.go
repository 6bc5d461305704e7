package book

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"maps"
	"sync"
	"time"

	"soakline/checks"
)

// Causes of a lost reading.
const (
	LostQueueFull = "queue full"     // the book could not be written for too long
	LostRefused   = "cannot be kept" // no finite number, no time
	LostStopped   = "writer stopped" // it came after the last commit, or that failed
)

const (
	defaultEvery = time.Second      // the commit interval
	defaultBound = 65536            // readings that may wait
	maxNotes     = 8192             // events, excursions and gaps that may wait
	finalCommit  = 10 * time.Second // how long the last commit may take
)

// Errors of Append and its kin. What is refused is counted in Health as well.
var (
	ErrQueueFull = errors.New("queue full")
	ErrStopped   = errors.New("writer stopped")
)

// WriterOptions is how a Writer commits. The zero value is usable.
type WriterOptions struct {
	// CommitEvery is the longest that a reading waits before it is committed; 0
	// means 1 s.
	CommitEvery time.Duration
	// Bound is how many readings may wait, also while the book cannot be written;
	// 0 means 65536.
	Bound int
	// TimeStep is what times are rounded down to: at 1 ms a reading takes half the
	// room that it takes at 1 us, which is the shortest and what 0 means. A verdict
	// that is given again from the book sees the times that it has.
	TimeStep time.Duration
	// Committed, if not nil, is called after every attempt, in Run's goroutine.
	Committed func(Commit)
}

// Commit is one attempt to write what is pending.
type Commit struct {
	Readings int
	Took     time.Duration
	// Err is why it failed; what was in it is held and tried again.
	Err error
	// Refused are entries that were left out because they can never be kept.
	Refused []error
}

// Health is how a Writer fares.
type Health struct {
	// Pending readings wait for the next commit; Written are in the book.
	Pending int
	Written uint64
	// Backwards are the readings among Written that were older than the newest of
	// their series.
	Backwards uint64
	// Lost readings by cause.
	Lost map[string]uint64
	// LastCommit is when a commit last succeeded.
	LastCommit time.Time
	// CommittingSince is when the commit began that is under way; zero if none is.
	CommittingSince time.Time
	// FailingSince is when the first of the failed commits was tried that no
	// successful one has followed, and Err the latest error; zero when all is well.
	FailingSince time.Time
	Err          error
}

// Writer takes readings without making the caller wait and commits them in groups.
type Writer struct {
	options WriterOptions
	// store is Book.store; tests put faults here.
	store func(context.Context, *batch, *journal) (outcome, error)
	now   func() time.Time

	flushes chan chan error
	nudge   chan struct{} // commit now: much is waiting, or an excursion
	ended   chan struct{} // closed when Run has returned

	// nudgeAt is how many waiting readings cause a commit before its time.
	nudgeAt int

	// Only Run's goroutine uses it.
	journal *journal

	mu      sync.Mutex
	pending *batch
	held    *batch // taken by a commit that has not succeeded; nil if none
	started bool
	stopped bool
	health  Health
}

// NewWriter returns a writer for a book that was opened for writing. It starts
// nothing: Run does. A book has one writer at a time.
func NewWriter(b *Book, options WriterOptions) *Writer {
	if options.CommitEvery <= 0 {
		options.CommitEvery = defaultEvery
	}
	if options.Bound <= 0 {
		options.Bound = defaultBound
	}
	return &Writer{
		options: options, store: b.store, now: b.now, nudgeAt: options.Bound / 4,
		flushes: make(chan chan error), nudge: make(chan struct{}, 1), ended: make(chan struct{}),
		journal: newJournal(), pending: &batch{},
		health: Health{Lost: make(map[string]uint64)},
	}
}

// Append takes a reading for the next commit. It never waits: a reading that
// cannot be taken is counted as lost, written into the book as a Loss when that is
// possible, and the error says why.
func (w *Writer) Append(r TaggedReading) error {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.stopped {
		w.health.Lost[LostStopped]++
		return ErrStopped
	}
	if err := r.check(); err != nil {
		w.lose(r, LostRefused)
		return fmt.Errorf("reading of %v at %v: %w", r.Tag, r.At, err)
	}
	if w.options.TimeStep > time.Microsecond {
		step := w.options.TimeStep.Microseconds()
		us := r.At.UnixMicro()
		r.At = time.UnixMicro(us - (us%step+step)%step)
	}
	waiting := w.waiting()
	if waiting >= w.options.Bound {
		w.lose(r, LostQueueFull)
		return ErrQueueFull
	}
	w.pending.readings = append(w.pending.readings, r)
	if w.held == nil && waiting == w.nudgeAt {
		w.wake()
	}
	return nil
}

func (w *Writer) lose(r TaggedReading, cause string) {
	w.health.Lost[cause]++
	w.pending.lose(r, cause)
}

// waiting counts the readings that are not in the book yet.
func (w *Writer) waiting() int {
	n := len(w.pending.readings)
	if w.held != nil {
		n += len(w.held.readings)
	}
	return n
}

func (w *Writer) wake() {
	select {
	case w.nudge <- struct{}{}:
	default:
	}
}

// PutEvent takes an event for the next commit; its time must be set.
func (w *Writer) PutEvent(e Event) error {
	return w.put("event of "+e.Instrument, func(ctx context.Context, tx *sql.Tx) error { return writeEvent(ctx, tx, e) })
}

// PutExcursion takes an excursion, or a newer form of one, for the next commit. One that
// begins, which may change the verdict, is committed at once.
func (w *Writer) PutExcursion(id SoakID, e checks.Excursion) error {
	err := w.put(fmt.Sprintf("excursion of soak %d", id),
		func(ctx context.Context, tx *sql.Tx) error { return writeExcursion(ctx, tx, w.now(), id, e) })
	if err == nil && e.To.IsZero() && w.Health().FailingSince.IsZero() {
		w.wake()
	}
	return err
}

// PutGap takes a gap, or a newer form of one, for the next commit.
func (w *Writer) PutGap(id SoakID, g checks.Gap) error {
	return w.put(fmt.Sprintf("gap of soak %d", id),
		func(ctx context.Context, tx *sql.Tx) error { return writeGap(ctx, tx, id, g) })
}

// PutSoakInstrument takes who answers at a soak from now on, for the next commit;
// its time must be set.
func (w *Writer) PutSoakInstrument(id SoakID, i SoakInstrument) error {
	return w.put(fmt.Sprintf("instrument %s of soak %d", i.Name, id), func(ctx context.Context, tx *sql.Tx) error {
		return addSoakInstruments(ctx, tx, id, i.Since, []SoakInstrument{i})
	})
}

func (w *Writer) put(about string, write func(context.Context, *sql.Tx) error) error {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.stopped {
		return fmt.Errorf("%s: %w", about, ErrStopped)
	}
	if len(w.pending.notes) >= maxNotes {
		return fmt.Errorf("%s: %w", about, ErrQueueFull)
	}
	w.pending.notes = append(w.pending.notes, note{about, write})
	return nil
}

// Health returns how the writer fares at this moment.
func (w *Writer) Health() Health {
	w.mu.Lock()
	defer w.mu.Unlock()
	h := w.health
	h.Pending = w.waiting()
	h.Lost = maps.Clone(h.Lost)
	return h
}

// Flush commits all that was taken before the call and waits for it. It needs Run
// to be running; once that has ended it is ErrStopped.
func (w *Writer) Flush(ctx context.Context) error {
	reply := make(chan error, 1)
	select {
	case w.flushes <- reply:
	case <-w.ended:
		return ErrStopped
	case <-ctx.Done():
		return fmt.Errorf("flush the book: %w", ctx.Err())
	}
	select {
	case err := <-reply:
		return err
	case <-ctx.Done():
		return fmt.Errorf("flush the book: %w", ctx.Err())
	}
}
