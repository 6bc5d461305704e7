package book

import (
	"context"
	"slices"

	"soakline/checks"
)

// Record returns a soak as checks.Judge takes it; one that still runs ends now.
// Its readings are read while they are judged: an error there ends them early, so
// a verdict counts only if failed, called after it was given, returns nil.
func (b *Book) Record(ctx context.Context, id SoakID) (record checks.SoakRecord, failed func() error, err error) {
	soak, err := b.Soak(ctx, id)
	if err != nil {
		return checks.SoakRecord{}, nil, err
	}
	if soak.End.IsZero() {
		soak.End = b.now()
	}
	losses, err := b.Losses(ctx, Filter{Soak: id})
	if err != nil {
		return checks.SoakRecord{}, nil, err
	}
	pauses, err := b.Pauses(ctx, id)
	if err != nil {
		return checks.SoakRecord{}, nil, err
	}
	var broken error
	record = checks.SoakRecord{
		Unit: soak.Unit, Begin: soak.Begin, Planned: soak.Planned, End: soak.End, Losses: judged(losses), Pauses: pauses,
		Readings: func(yield func(checks.Tagged) bool) {
			for r, err := range b.SoakReadings(ctx, id) {
				if broken = err; err != nil || !yield(checks.Tagged{TestPoint: r.Tag.TestPoint, Reading: r.Reading}) {
					return
				}
			}
		},
	}
	return record, func() error { return broken }, nil
}

// judged puts losses into the form and order in which they are judged.
func judged(losses []Loss) []checks.Loss {
	all := make([]checks.Loss, len(losses))
	for i, l := range losses {
		all[i] = checks.Loss{TestPoint: l.Tag.TestPoint, From: l.From, To: l.To, Readings: l.Count, Cause: l.Cause}
	}
	slices.SortStableFunc(all, func(a, b checks.Loss) int { return a.To.Compare(b.To) })
	return all
}
