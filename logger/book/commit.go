package book

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"time"
)

// Run commits every CommitEvery, at each Flush, and at once when much is waiting or an
// excursion begins, until ctx ends; then it takes no more, commits once again and returns. A commit
// does not obey the ended context but is cut off 10 s after its end. A commit that
// fails ends nothing: its readings are held and go in when they can. The error
// says that the last commit failed and how much was lost by it.
func (w *Writer) Run(ctx context.Context) error {
	w.mu.Lock()
	again := w.started
	w.started = true
	w.mu.Unlock()
	if again {
		return errors.New("the book's writer runs already")
	}
	defer close(w.ended)
	work, release := outlive(ctx, finalCommit)
	defer release()
	ticker := time.NewTicker(w.options.CommitEvery)
	defer ticker.Stop()
	for {
		select {
		case <-ctx.Done():
			return w.finish(work)
		case <-ticker.C:
			_ = w.commit(work) // Committed and Health report it
		case <-w.nudge:
			_ = w.commit(work)
		case reply := <-w.flushes:
			reply <- w.commit(work)
		}
	}
}

// outlive returns a context that ends the given time after ctx has ended; release
// ends it at once and waits for what watches it.
func outlive(ctx context.Context, by time.Duration) (work context.Context, release func()) {
	work, cancel := context.WithCancel(context.WithoutCancel(ctx))
	var watch sync.WaitGroup
	watch.Go(func() {
		select {
		case <-ctx.Done():
		case <-work.Done():
			return
		}
		grace := time.NewTimer(by)
		defer grace.Stop()
		select {
		case <-grace.C:
			cancel()
		case <-work.Done():
		}
	})
	return work, func() { cancel(); watch.Wait() }
}

// commit writes what is held, then what is pending, and keeps what did not go in.
func (w *Writer) commit(ctx context.Context) error {
	for {
		bt := w.take()
		if bt == nil {
			return nil
		}
		begin := time.Now()
		w.committing(begin)
		out, err := w.store(ctx, bt, w.journal)
		w.settle(bt, out, err, begin)
		if w.options.Committed != nil {
			w.options.Committed(Commit{Readings: len(bt.readings) - len(out.lost), Took: time.Since(begin), Err: err, Refused: out.refused})
		}
		if err != nil {
			return err
		}
	}
}

// committing notes when a commit began.
func (w *Writer) committing(begin time.Time) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.health.CommittingSince = begin
}

// take returns the batch to commit next; nil if nothing waits.
func (w *Writer) take() *batch {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.held == nil && !w.pending.empty() {
		w.held, w.pending = w.pending, &batch{}
	}
	return w.held
}

// settle notes what became of a batch.
func (w *Writer) settle(bt *batch, out outcome, err error, begin time.Time) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.health.CommittingSince = time.Time{}
	if err != nil {
		w.health.Err = err
		if w.health.FailingSince.IsZero() {
			w.health.FailingSince = begin
		}
		return
	}
	w.held = nil
	for _, r := range out.lost {
		w.lose(r, LostRefused)
	}
	w.health.Err, w.health.FailingSince = nil, time.Time{}
	w.health.LastCommit = time.Now()
	w.health.Written += uint64(len(bt.readings) - len(out.lost)) // #nosec G115 -- lost is a part of readings
	w.health.Backwards += uint64(out.backwards)                  // #nosec G115 -- a count
}

// finish is the end of Run.
func (w *Writer) finish(ctx context.Context) error {
	w.mu.Lock()
	w.stopped = true
	w.mu.Unlock()
	err := w.commit(ctx)
	if err == nil {
		return nil
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	n := w.waiting()
	w.health.Lost[LostStopped] += uint64(n) // #nosec G115 -- a count
	return fmt.Errorf("last commit: %d readings are lost: %w", n, err)
}
