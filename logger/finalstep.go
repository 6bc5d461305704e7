package logger

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"soakline/checks"
	"soakline/logger/book"
)

// StepRequest asks for one step of a final test to be taken, for the first time or
// again.
type StepRequest struct {
	Unit checks.UnitID
	Step checks.StepName
	// Answer is what the person says to a question, Note what else is to be written
	// down.
	Answer checks.Answer
	Note   string
}

// StepProgress tells those who wait for a step how it goes.
type StepProgress struct {
	Step checks.StepName
	// Text says it in words: "settling: 5.012 V, spread 3 mV".
	Text string
	// Left is how much longer it takes at most; 0 where that cannot be said.
	Left time.Duration
}

// TakeStep takes a step of the final test that is under way and writes what it
// found; show, if not nil, is told how it goes. If the context ends before the step
// is complete, nothing is written: the test stands where it was. An instrument that
// cannot be read is no error but the result's Trouble.
func (b *Bench) TakeStep(ctx context.Context, request StepRequest, show func(StepProgress)) (FinalStatus, error) {
	return b.atStep(ctx, request.Unit, request.Step, func(status FinalStatus, step checks.FinalStep) (checks.StepResult, error) {
		for _, before := range step.After {
			at := slices.IndexFunc(status.Verdict.Steps, func(v checks.StepVerdict) bool { return v.Step == before })
			if at < 0 || status.Verdict.Steps[at].Outcome != checks.Pass {
				return checks.StepResult{}, fmt.Errorf("step %s %w: %s comes first and has not passed", step.Name, ErrNotDue, before)
			}
		}
		w := &stepWork{bench: b, final: status.Final, sheet: status.Sheet, step: step, show: show,
			result: checks.StepResult{Step: step.Name, Kind: step.Kind, Act: checks.Taken, TestPoint: step.TestPoint, Note: request.Note, Begin: b.now()}}
		if w.show == nil {
			w.show = func(StepProgress) {}
		}
		err := w.take(ctx, request)
		return w.result, err
	})
}

// SkipStep leaves a step out, for a reason in words; the verdict can be no pass then.
func (b *Bench) SkipStep(ctx context.Context, unit checks.UnitID, step checks.StepName, reason string) (FinalStatus, error) {
	if strings.TrimSpace(reason) == "" {
		return FinalStatus{}, fmt.Errorf("step %s: %w: say why it is skipped", step, book.ErrInvalid)
	}
	return b.atStep(ctx, unit, step, func(_ FinalStatus, step checks.FinalStep) (checks.StepResult, error) {
		return checks.StepResult{Step: step.Name, Kind: step.Kind, Act: checks.Skipped, TestPoint: step.TestPoint, Note: reason, Begin: b.now()}, nil
	})
}

// atStep has work done at a step of the unit's open test and writes its result.
func (b *Bench) atStep(ctx context.Context, unit checks.UnitID, name checks.StepName,
	work func(FinalStatus, checks.FinalStep) (checks.StepResult, error)) (FinalStatus, error) {
	done, err := b.finals.begin(unit)
	if err != nil {
		return FinalStatus{}, err
	}
	defer done()
	open, err := b.options.Book.OpenFinal(ctx, unit)
	if err != nil {
		return FinalStatus{}, err
	}
	status, err := b.finalStatus(ctx, open.ID)
	if err != nil {
		return FinalStatus{}, err
	}
	step, known := status.Sheet.Final.Step(name)
	if !known {
		return FinalStatus{}, fmt.Errorf("final test of %s: %w: sheet %s has no step %q", unit, book.ErrNotFound, status.Sheet.Name, name)
	}
	result, err := work(status, step)
	if err != nil {
		return FinalStatus{}, err
	}
	result.End = b.now()
	if err := b.noteFinalInstruments(ctx, open, result.Begin); err != nil {
		return FinalStatus{}, err
	}
	if err := b.options.Book.AddStepResult(ctx, open.ID, result); err != nil {
		return FinalStatus{}, err
	}
	b.tellFinal(unit, fmt.Sprintf("step %s %s", name, result.Act))
	return b.finalStatus(ctx, open.ID)
}

// stepWork is the taking of one step.
type stepWork struct {
	bench  *Bench
	final  book.Final
	sheet  checks.Sheet
	step   checks.FinalStep
	show   func(StepProgress)
	result checks.StepResult
}

// take does what the step's kind asks. An error is the book's, the request's, or
// that the context ended.
func (w *stepWork) take(ctx context.Context, request StepRequest) error {
	switch w.step.Kind {
	case checks.StepMeasure:
		return w.measure(ctx)
	case checks.StepSoak:
		return w.soak(ctx)
	case checks.StepDischarge:
		return w.discharge(ctx)
	case checks.StepQuestion:
		if request.Answer != checks.Yes && request.Answer != checks.No {
			return fmt.Errorf("step %s %w", w.step.Name, ErrNoAnswer)
		}
		w.result.Answer = request.Answer
		return nil
	default:
		return w.wait(ctx)
	}
}

// tell passes on how it goes.
func (w *stepWork) tell(left time.Duration, format string, args ...any) {
	w.show(StepProgress{Step: w.step.Name, Text: fmt.Sprintf(format, args...), Left: left})
}

// toldEvery is how often one who waits is told.
const toldEvery = 250 * time.Millisecond

// wait lets the time pass, by a clock that nobody can set.
func (w *stepWork) wait(ctx context.Context) error {
	begin := time.Now()
	for {
		waited := time.Since(begin)
		left := w.step.Wait - waited
		if left <= 0 {
			w.result.Waited = waited.Truncate(time.Microsecond)
			return nil
		}
		w.tell(left, "waiting: %s left", checks.Duration(left.Truncate(time.Second)))
		if err := pause(ctx, min(left, toldEvery)); err != nil {
			return err
		}
	}
}

// soak names the unit's latest soak, which must have its end: a verdict that still
// changes is none.
func (w *stepWork) soak(ctx context.Context) error {
	soaks, err := w.bench.options.Book.Soaks(ctx, w.final.Unit)
	if err != nil || len(soaks) == 0 {
		return err
	}
	last := soaks[len(soaks)-1]
	if last.End.IsZero() {
		return fmt.Errorf("unit %s %w, soak %d: wait for its end, or end it: soakline soak end --unit %s", w.final.Unit, ErrStillSoaks, last.ID, w.final.Unit)
	}
	w.result.Soak = int64(last.ID)
	return nil
}
