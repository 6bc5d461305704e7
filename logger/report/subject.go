package report

import (
	"context"
	"errors"
	"fmt"
	"time"

	"soakline/checks"
	"soakline/logger/book"
)

// subject is what a certificate is about: a final test with the soak that it relies
// on, or a soak alone. final or soak is nil where there is none.
type subject struct {
	soak         *book.Soak
	verdict      book.SoakVerdict
	final        *book.Final
	finalVerdict book.FinalVerdict
}

// finalSoaks is the soak that the final test relies on, under the number by which that
// names it; none where there is none.
func (s subject) finalSoaks() []checks.FinalSoak {
	if s.soak == nil {
		return nil
	}
	number := int64(0)
	for _, result := range s.final.Results {
		if result.Soak != 0 {
			number = result.Soak
		}
	}
	return []checks.FinalSoak{{Soak: number, Verdict: s.verdict.Verdict}}
}

// ErrNothingJudged says that there is no verdict to write about.
var ErrNothingJudged = errors.New("there is no verdict yet")

// subject finds what is to be written about: the soak that is asked for, or the
// unit's final test if its verdict is the latest, or its latest soak with a verdict.
func (g gatherer) subject(ctx context.Context, unit checks.UnitID) (subject, error) {
	if g.options.Soak != 0 {
		return g.asked(ctx, unit)
	}
	soak, err := g.latestSoak(ctx, unit)
	if err != nil {
		return subject{}, err
	}
	final, err := g.latestFinal(ctx, unit)
	switch {
	case err != nil:
		return subject{}, err
	case final.final == nil && soak.soak == nil:
		return subject{}, g.nothing(ctx, unit)
	case final.final == nil || soak.soak != nil && soak.verdict.At.After(final.finalVerdict.At):
		return soak, nil // the unit came back after its final test
	}
	final.soak, final.verdict, err = g.soakOf(ctx, final.final)
	return final, err
}

// asked is the soak of the options, which must be the unit's.
func (g gatherer) asked(ctx context.Context, unit checks.UnitID) (subject, error) {
	soak, err := g.book.Soak(ctx, g.options.Soak)
	if err != nil {
		return subject{}, err
	}
	if soak.Unit != unit {
		return subject{}, fmt.Errorf("soak %d is of %s, not of %s: %w", soak.ID, soak.Unit, unit, errOtherUnit)
	}
	verdict, err := g.book.Verdict(ctx, soak.ID)
	if errors.Is(err, book.ErrNotFound) {
		err = fmt.Errorf("soak %d of %s: %w", soak.ID, unit, ErrNothingJudged)
	}
	return subject{soak: &soak, verdict: verdict}, err
}

// errOtherUnit says that a soak is not the unit's; for whoever asked for it, there
// is no such soak.
var errOtherUnit = fmt.Errorf("the unit has no such soak: %w", book.ErrNotFound)

// latestSoak is the unit's latest soak that has a verdict.
func (g gatherer) latestSoak(ctx context.Context, unit checks.UnitID) (subject, error) {
	soaks, err := g.book.Soaks(ctx, unit)
	for i := len(soaks) - 1; i >= 0 && err == nil; i-- {
		verdict, verdictErr := g.book.Verdict(ctx, soaks[i].ID)
		if verdictErr == nil {
			return subject{soak: &soaks[i], verdict: verdict}, nil
		}
		if !errors.Is(verdictErr, book.ErrNotFound) {
			err = verdictErr
		}
	}
	return subject{}, err
}

// latestFinal is the unit's latest final test that has a verdict.
func (g gatherer) latestFinal(ctx context.Context, unit checks.UnitID) (subject, error) {
	finals, err := g.book.Finals(ctx, unit)
	for i := len(finals) - 1; i >= 0 && err == nil; i-- {
		verdict, verdictErr := g.book.FinalVerdict(ctx, finals[i].ID)
		if verdictErr == nil {
			return subject{final: &finals[i], finalVerdict: verdict}, nil
		}
		if !errors.Is(verdictErr, book.ErrNotFound) {
			err = verdictErr
		}
	}
	return subject{}, err
}

// soakOf is the soak that a final test relies on; nil if it relies on none that has
// a verdict.
func (g gatherer) soakOf(ctx context.Context, final *book.Final) (*book.Soak, book.SoakVerdict, error) {
	for i := len(final.Results) - 1; i >= 0; i-- {
		if final.Results[i].Soak == 0 {
			continue
		}
		id, err := g.book.SoakOfFinal(ctx, final.ID, book.SoakID(final.Results[i].Soak))
		if err != nil {
			return nil, book.SoakVerdict{}, err
		}
		soak, err := g.book.Soak(ctx, id)
		if err != nil {
			return nil, book.SoakVerdict{}, err
		}
		verdict, err := g.book.Verdict(ctx, id)
		if errors.Is(err, book.ErrNotFound) {
			return nil, book.SoakVerdict{}, nil
		}
		return &soak, verdict, err
	}
	return nil, book.SoakVerdict{}, nil
}

// nothing says why there is nothing to write about.
func (g gatherer) nothing(ctx context.Context, unit checks.UnitID) error {
	soaks, err := g.book.Soaks(ctx, unit)
	if err != nil {
		return err
	}
	why := "it has been on no soak and had no final test"
	if len(soaks) > 0 {
		why = fmt.Sprintf("soak %d has not ended", soaks[len(soaks)-1].ID)
	}
	return fmt.Errorf("unit %s: %w: %s", unit, ErrNothingJudged, why)
}

// given is when the verdict was given.
func (s subject) given() time.Time {
	if s.final != nil {
		return s.finalVerdict.At
	}
	return s.verdict.At
}

// sheet is the copy that the verdict was given by.
func (s subject) sheet() book.SheetCopy {
	if s.final != nil {
		return s.final.Sheet
	}
	return s.soak.Sheet
}

// link is the verdict's place in the book's chain.
func (g gatherer) link(ctx context.Context, s subject) (book.ChainLink, error) {
	if s.final != nil {
		return g.book.FinalVerdictLink(ctx, s.final.ID)
	}
	return g.book.VerdictLink(ctx, s.soak.ID)
}
