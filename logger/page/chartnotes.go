package page

import (
	"context"
	"errors"
	"time"

	"soakline/checks"
	"soakline/logger"
	"soakline/logger/book"
)

// chartNotes is what is drawn beside the readings of a chart.
type chartNotes struct {
	soaks      []SoakRecordView
	checks     map[checks.CheckKey]checks.Check
	excursions map[checks.CheckKey][]ExcursionView
	gaps       map[checks.CheckKey][]GapView
}

// chartNotes collects the soaks of the chart's unit that touch its time, with their
// excursions and gaps. Limits are those of the soak's own sheet, without a soak
// those that the bench has now.
func (s *Server) chartNotes(ctx context.Context, q chartQuery) (chartNotes, error) {
	notes := chartNotes{checks: map[checks.CheckKey]checks.Check{}, excursions: map[checks.CheckKey][]ExcursionView{}, gaps: map[checks.CheckKey][]GapView{}}
	sheet, err := s.chartSheet(ctx, q)
	if err != nil {
		return notes, err
	}
	for _, point := range sheet.TestPoints {
		for _, check := range point.Checks {
			key := checks.CheckKey{TestPoint: point.Name, Measure: check.Measure}
			notes.checks[key] = check
			notes.excursions[key], notes.gaps[key] = []ExcursionView{}, []GapView{}
		}
	}
	soaks := []book.Soak{}
	if q.soak != nil {
		soaks = append(soaks, *q.soak)
	} else if soaks, err = s.bench.Book().Soaks(ctx, q.unit); err != nil {
		return notes, err
	}
	for _, soak := range soaks {
		if touches(soak.Begin, soak.End, q) {
			if err := s.noteSoak(ctx, q, soak, &notes); err != nil {
				return notes, err
			}
		}
	}
	return notes, nil
}

// chartSheet is the sheet whose limits the chart draws; the zero sheet where there
// is none any more.
func (s *Server) chartSheet(ctx context.Context, q chartQuery) (checks.Sheet, error) {
	if q.soak != nil {
		return s.bench.SheetOf(q.soak.Sheet)
	}
	unit, err := s.bench.Book().Unit(ctx, q.unit)
	if err != nil {
		return checks.Sheet{}, err
	}
	sheet, err := s.bench.Settings().SheetFor(unit.Console)
	if errors.Is(err, logger.ErrNoSheet) {
		return checks.Sheet{}, nil
	}
	return sheet, err
}

// noteSoak adds what the book has of one soak.
func (s *Server) noteSoak(ctx context.Context, q chartQuery, soak book.Soak, notes *chartNotes) error {
	notes.soaks = append(notes.soaks, viewSoakRecord(soak))
	excursions, err := s.bench.Book().Excursions(ctx, soak.ID)
	if err != nil {
		return err
	}
	for _, e := range excursions {
		if touches(e.From, e.To, q) {
			notes.excursions[e.Check] = append(notes.excursions[e.Check], viewExcursion(e))
		}
	}
	gaps, err := s.gapsOf(ctx, soak)
	for _, g := range gaps {
		if touches(g.From, g.To, q) {
			notes.gaps[g.Check] = append(notes.gaps[g.Check], GapView{From: g.From, To: g.To, Cause: g.Cause})
		}
	}
	return err
}

// gapsOf are the gaps of a soak: from the book, which has them with the verdict,
// while it is under way from the bench.
func (s *Server) gapsOf(ctx context.Context, soak book.Soak) ([]checks.Gap, error) {
	if soak.State != book.SoakRunning {
		return s.bench.Book().Gaps(ctx, soak.ID)
	}
	snapshot, err := s.bench.Snapshot(ctx)
	var gaps []checks.Gap
	for _, status := range snapshot.Soaks {
		for _, check := range status.Checks {
			if status.ID == soak.ID {
				gaps = append(gaps, check.Gaps...)
			}
		}
	}
	return gaps, err
}

// touches tells whether an interval and a chart's time have something in common;
// one without an end lasts.
func touches(from, to time.Time, q chartQuery) bool {
	return from.Before(q.until) && (to.IsZero() || !to.Before(q.from))
}
