package logger

import (
	"context"
	"fmt"
	"iter"
	"slices"
	"time"

	"soakline/checks"
	"soakline/device"
	"soakline/logger/book"
)

// resume takes up the soaks that were running when the program last ended. What
// the book holds is judged again, so that the gap is in the evidence. Soaks that
// had ended, but not got their verdict, get it.
func (b *Bench) resume(ctx context.Context) error {
	running, err := b.options.Book.RunningSoaks(ctx, b.settings.Bench)
	if err != nil {
		return err
	}
	var revived []*liveSoak
	var last lastRead
	for _, kept := range running {
		soak, err := b.revive(ctx, kept, &last)
		if err != nil {
			return fmt.Errorf("take up the soak of %s again: %w; mend that, or end it: soakline soak end --unit %s", kept.Unit, err, kept.Unit)
		}
		revived = append(revived, soak)
	}
	b.notBefore(last)
	for _, soak := range revived {
		b.start(soak)
		b.record(device.Event{Instrument: programName, Kind: device.Returned, At: b.now(),
			Text: fmt.Sprintf("the soak of %s at %s goes on after the program was away", soak.unit, soak.place.Name)})
	}
	b.remember()
	return b.catchUp(ctx)
}

// remember has every instrument know who answered for the soaks that go on: ports
// that swapped their names while the program was away must not swap the readings.
func (b *Bench) remember() {
	answered := map[string]string{}
	for _, soak := range b.soaks {
		for name, instrument := range soak.instruments {
			if instrument.Identity != "" {
				answered[name] = instrument.Identity
			}
		}
	}
	for _, keeper := range b.keepers {
		keeper.Remember(answered)
	}
}

// catchUp gives the verdicts that the program did not come to before it ended.
func (b *Bench) catchUp(ctx context.Context) error {
	unjudged, err := b.options.Book.UnjudgedSoaks(ctx, b.settings.Bench)
	if err != nil {
		return err
	}
	for _, kept := range unjudged {
		sheet, err := b.options.ParseSheet(kept.Sheet.Name, kept.Sheet.Text)
		if err != nil {
			b.options.Log.Error("a soak has no verdict, and its sheet cannot be read", "soak", kept.ID, "unit", kept.Unit, "error", err)
			continue
		}
		soak := newLiveSoak(kept, Place{Name: kept.Place}, sheet, nil)
		b.finishing.Go(func() {
			if err := b.giveVerdict(context.WithoutCancel(ctx), soak); err != nil {
				b.options.Log.Error("a soak of before has no verdict yet", "soak", kept.ID, "unit", kept.Unit, "error", err)
			}
		})
	}
	return b.catchUpFinals(ctx)
}

// catchUpFinals does the same for final tests.
func (b *Bench) catchUpFinals(ctx context.Context) error {
	unjudged, err := b.options.Book.UnjudgedFinals(ctx, b.settings.Bench)
	if err != nil {
		return err
	}
	for _, kept := range unjudged {
		b.finishing.Go(func() {
			if err := b.giveFinalVerdict(context.WithoutCancel(ctx), kept); err != nil {
				b.options.Log.Error("a final test of before has no verdict yet", "final", kept.ID, "unit", kept.Unit, "error", err)
			}
		})
	}
	return nil
}

// lastRead is how far the soaks that are taken up had come.
type lastRead struct {
	at time.Time
	// tellingGap is longer than every gap that may still lead to a pass.
	tellingGap time.Duration
}

// revive builds a running soak from the book, and notes how far it had come.
func (b *Bench) revive(ctx context.Context, kept book.Soak, last *lastRead) (*liveSoak, error) {
	sheet, err := b.options.ParseSheet(kept.Sheet.Name, kept.Sheet.Text)
	if err != nil {
		return nil, err
	}
	at := slices.IndexFunc(b.settings.Places, func(p Place) bool { return p.Name == kept.Place })
	if at < 0 {
		return nil, fmt.Errorf("the bench has no place named %q any more", kept.Place)
	}
	record, failed, err := b.options.Book.Record(ctx, kept.ID)
	if err != nil {
		return nil, err
	}
	// A clock that has been set back must not make what comes older than what was.
	record.End = endOfTime
	if kept.Begin.After(last.at) {
		last.at = kept.Begin
	}
	last.tellingGap = max(last.tellingGap, sheet.Soak.LongestGap+time.Second)
	drifts, err := checks.NewDriftWatches(sheet)
	if err != nil {
		return nil, err
	}
	record.Readings = feeding(noting(record.Readings, &last.at), drifts)
	judgement := checks.Resume(sheet, record)
	if err := failed(); err != nil {
		return nil, err
	}
	soak := newLiveSoak(kept, b.settings.Places[at], sheet, judgement)
	soak.drifts = drifts
	if soak.power != nil {
		soak.power.takeUp(record.Pauses)
	}
	return soak, b.tellMissedAlarms(ctx, soak)
}

// noting passes readings on and notes the latest time among them.
func noting(readings iter.Seq[checks.Tagged], latest *time.Time) iter.Seq[checks.Tagged] {
	return func(yield func(checks.Tagged) bool) {
		for tagged := range readings {
			if tagged.Reading.At.After(*latest) {
				*latest = tagged.Reading.At
			}
			if !yield(tagged) {
				return
			}
		}
	}
}
