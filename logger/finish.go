package logger

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"soakline/checks"
	"soakline/logger/book"
)

// ending is how and when a soak ended.
type ending struct {
	state  book.SoakState
	at     time.Time
	reason string
	// written is closed when the book has it or it was given up; nil if nobody
	// waits.
	written chan struct{}
}

const (
	// endPatience is how long EndSoak waits for the book.
	endPatience = 5 * time.Second
	// tryAgainAfter is how long a verdict waits that the book could not take; each
	// time twice as long, up to tryAgainAtMost.
	tryAgainAfter  = time.Second
	tryAgainAtMost = 5 * time.Minute
)

// EndSoak stops the soak of a unit before its time, for a reason in words. It
// returns when the book has the end, so that the place can be taken; the verdict
// is given after.
func (b *Bench) EndSoak(ctx context.Context, unit checks.UnitID, reason string) error {
	found := false
	how := ending{state: book.SoakStopped, reason: reason, written: make(chan struct{})}
	err := b.ask(ctx, func() {
		for _, soak := range b.soaks {
			if soak.unit == unit {
				found = true
				how.at = b.now()
				b.endSoak(ctx, soak, how)
				return
			}
		}
	})
	if err == nil && !found {
		err = fmt.Errorf("unit %s %w", unit, ErrNotSoaks)
	}
	if err != nil {
		return err
	}
	patience := time.NewTimer(endPatience)
	defer patience.Stop()
	select {
	case <-how.written:
	case <-patience.C: // the soak has ended; the book is told when it can be
	case <-ctx.Done():
	}
	return nil
}

// endSoak takes a soak off the bench and has its verdict given. It is the owner's
// to call; the verdict is given beside it, from the book.
func (b *Bench) endSoak(ctx context.Context, soak *liveSoak, how ending) {
	b.soaks = slices.DeleteFunc(b.soaks, func(s *liveSoak) bool { return s == soak })
	b.reroute()
	b.keepLastRecords(soak)
	b.Tell(Happening{At: how.at, Kind: SoakOver, Unit: soak.unit, Soak: soak.id, Text: how.reason})
	b.Counters.leave(soak.unit)
	b.finishing.Go(func() { b.conclude(context.WithoutCancel(ctx), soak, how) })
	b.leaveOff(ctx, soak)
}

// conclude writes the end of a soak and gives its verdict. While the book cannot
// be written it tries again, until the bench has stopped.
func (b *Bench) conclude(ctx context.Context, soak *liveSoak, how ending) {
	ended := false
	for wait := tryAgainAfter; ; wait = min(2*wait, tryAgainAtMost) {
		if !ended {
			ended = b.writeEnd(ctx, soak, how)
		}
		if ended {
			err := b.giveVerdict(ctx, soak)
			if err == nil {
				return
			}
			b.options.Log.Error("a soak has ended and its verdict could not be given", "soak", soak.id, "unit", soak.unit, "error", err)
		}
		if !b.waitToTryAgain(wait) {
			return // the next start gives it
		}
	}
}

// writeEnd writes what was read of a soak and its end.
func (b *Bench) writeEnd(ctx context.Context, soak *liveSoak, how ending) bool {
	err := b.writer.Flush(ctx)
	if err == nil {
		err = b.options.Book.EndSoak(ctx, soak.id, how.state, how.at, how.reason)
	}
	if err != nil {
		b.options.Log.Error("the end of a soak could not be written", "soak", soak.id, "unit", soak.unit, "error", err)
		return false
	}
	if how.written != nil {
		close(how.written)
	}
	return true
}

// waitToTryAgain is false when the bench has stopped.
func (b *Bench) waitToTryAgain(after time.Duration) bool {
	timer := time.NewTimer(after)
	defer timer.Stop()
	select {
	case <-timer.C:
		return true
	case <-b.owned:
		return false
	}
}

// giveVerdict judges what the book holds: the verdict is that of the record, not of
// the memory of this process.
func (b *Bench) giveVerdict(ctx context.Context, soak *liveSoak) error {
	verdict, err := JudgeFromBook(ctx, b.options.Book, soak.id, soak.sheet)
	if err != nil {
		return err
	}
	if err := KeepVerdict(ctx, b.options.Book, soak.id, b.now(), verdict); err != nil {
		return err
	}
	finished := FinishedSoak{ID: soak.id, Unit: soak.unit, Console: soak.sheet.Console, Place: soak.place.Name, Verdict: verdict}
	b.options.Log.Info("verdict", "unit", soak.unit, "outcome", verdict.Outcome)
	if err := b.ask(ctx, func() { b.showFinished(finished) }); err != nil && !errors.Is(err, ErrStopped) {
		return err
	}
	b.Tell(Happening{Kind: VerdictGiven, Unit: soak.unit, Soak: soak.id, Finished: &finished})
	if b.options.Finished != nil {
		b.options.Finished(finished)
	}
	return nil
}

// showFinished shows a verdict from now on, one of each unit and of each place,
// unless the place has been taken or the unit soaks again meanwhile.
func (b *Bench) showFinished(finished FinishedSoak) {
	replaced := func(f FinishedSoak) bool { return f.Place == finished.Place || f.Unit == finished.Unit }
	if slices.ContainsFunc(b.soaks, func(s *liveSoak) bool { return s.place.Name == finished.Place || s.unit == finished.Unit }) ||
		slices.ContainsFunc(b.finished, func(f FinishedSoak) bool { return replaced(f) && f.ID > finished.ID }) {
		return
	}
	b.finished = append(slices.DeleteFunc(b.finished, replaced), finished)
}

// JudgeFromBook gives the verdict of a sheet on a soak as the book holds it; of one
// that was thinned it is book.ErrThinned.
func JudgeFromBook(ctx context.Context, from *book.Book, id book.SoakID, sheet checks.Sheet) (checks.Verdict, error) {
	if err := from.Whole(ctx, id); err != nil {
		return checks.Verdict{}, err
	}
	record, failed, err := from.Record(ctx, id)
	if err != nil {
		return checks.Verdict{}, err
	}
	verdict := checks.Judge(sheet, record)
	if err := failed(); err != nil {
		return checks.Verdict{}, err
	}
	return verdict, nil
}

// KeepVerdict writes a verdict that was given at a moment, with its excursions and
// gaps.
func KeepVerdict(ctx context.Context, in *book.Book, id book.SoakID, at time.Time, verdict checks.Verdict) error {
	for _, check := range verdict.Checks {
		for _, excursion := range check.Excursions {
			if err := in.PutExcursion(ctx, id, excursion); err != nil {
				return err
			}
		}
		for _, gap := range check.Gaps {
			if err := in.PutGap(ctx, id, gap); err != nil {
				return err
			}
		}
	}
	return in.PutVerdict(ctx, id, at, verdict)
}
