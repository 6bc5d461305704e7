package logger

import (
	"context"
	"fmt"

	"soakline/checks"
	"soakline/checks/audio"
	"soakline/checks/video"
	"soakline/device"
	"soakline/logger/book"
)

// SeenRecord is a scope record of a test point with what it says.
type SeenRecord struct {
	device.Capture
	TestPoint  checks.TestPointName
	Instrument string
	// Soak or Round is what it belongs to.
	Soak  book.SoakID
	Round book.Round
	// Readings are the figures that it was reduced to.
	Readings []device.Reading
	Findings []checks.Finding
	// Line is the mean line of a composite output; its Lines is 0 where there is
	// none. SyncSeconds is the first leading edge of line sync in the record.
	Line        video.MeanLine
	SyncSeconds float64
	// Spectrum is that of an audio output; its BinHertz is 0 where there is none.
	Spectrum audio.Spectrum
}

// LatestRecord is the latest record of a unit's test point: of the soak that is
// under way, else the last that the book keeps. ErrNotFound if there is none.
func (b *Bench) LatestRecord(ctx context.Context, unit checks.UnitID, point checks.TestPointName) (SeenRecord, error) {
	seen, sheet, err := b.liveRecord(ctx, unit, point)
	if err != nil {
		return seen, err
	}
	if len(seen.Volts) > 0 {
		return seen.analysed(sheet)
	}
	newest, sheetCopy, err := b.newestKept(ctx, unit, point)
	if err != nil {
		return seen, err
	}
	return b.kept(ctx, newest, sheetCopy)
}

// liveRecord is what a soak under way has of a test point; it has no samples where
// there is none.
func (b *Bench) liveRecord(ctx context.Context, unit checks.UnitID, point checks.TestPointName) (seen SeenRecord, sheet checks.Sheet, err error) {
	err = b.ask(ctx, func() {
		for _, soak := range b.soaks {
			k := soak.records[point]
			if soak.unit == unit && k != nil {
				seen = SeenRecord{Capture: k.latest, TestPoint: point, Instrument: k.instrument, Soak: soak.id}
				sheet = soak.sheet
			}
		}
	})
	return seen, sheet, err
}

// newestKept finds the newest record of a unit's test point in the book, with the
// sheet that it was taken by.
func (b *Bench) newestKept(ctx context.Context, unit checks.UnitID, point checks.TestPointName) (keptRecord, book.SheetCopy, error) {
	var newest keptRecord
	var sheet book.SheetCopy
	soaks, err := b.options.Book.Soaks(ctx, unit)
	if err != nil {
		return newest, sheet, err
	}
	for _, soak := range soaks {
		if last, err := b.lastOfSoak(ctx, soak, point); err == nil && last.At.After(newest.At) {
			newest, sheet = last, soak.Sheet
		}
	}
	rounds, err := b.options.Book.Rounds(ctx, unit)
	if err != nil {
		return newest, sheet, err
	}
	for _, round := range rounds {
		if last, err := b.lastOfRound(ctx, round, point); err == nil && last.At.After(newest.At) {
			newest, sheet = last, round.Sheet
		}
	}
	if newest.ID == 0 {
		err = fmt.Errorf("unit %s: %w: no record of test point %q", unit, book.ErrNotFound, point)
	}
	return newest, sheet, err
}

// keptRecord is a record that the book keeps, with its round if it is of one.
type keptRecord struct {
	book.KeptCapture
	round book.Round
}

// SoakRecord is the last record that the book keeps of a soak's test point.
func (b *Bench) SoakRecord(ctx context.Context, soak book.Soak, point checks.TestPointName) (SeenRecord, error) {
	last, err := b.lastOfSoak(ctx, soak, point)
	if err != nil {
		return SeenRecord{}, err
	}
	return b.kept(ctx, last, soak.Sheet)
}

// RoundRecord is the last record that a round took of a test point.
func (b *Bench) RoundRecord(ctx context.Context, round book.Round, point checks.TestPointName) (SeenRecord, error) {
	last, err := b.lastOfRound(ctx, round, point)
	if err != nil {
		return SeenRecord{}, err
	}
	return b.kept(ctx, last, round.Sheet)
}

func (b *Bench) lastOfSoak(ctx context.Context, soak book.Soak, point checks.TestPointName) (keptRecord, error) {
	all, err := b.options.Book.SoakCaptures(ctx, soak.ID)
	if err != nil {
		return keptRecord{}, err
	}
	last, err := lastAt(all, point)
	if err != nil {
		err = fmt.Errorf("soak %d: %w", soak.ID, err)
	}
	return keptRecord{KeptCapture: last}, err
}

func (b *Bench) lastOfRound(ctx context.Context, round book.Round, point checks.TestPointName) (keptRecord, error) {
	all, err := b.options.Book.RoundCaptures(ctx, round.ID)
	if err != nil {
		return keptRecord{}, err
	}
	last, err := lastAt(all, point)
	if err != nil {
		err = fmt.Errorf("round %q of unit %s: %w", round.Label, round.Unit, err)
	}
	return keptRecord{last, round}, err
}

// lastAt is the last of some records that is of a test point.
func lastAt(all []book.KeptCapture, point checks.TestPointName) (book.KeptCapture, error) {
	for i := len(all) - 1; i >= 0; i-- {
		if all[i].TestPoint == point {
			return all[i], nil
		}
	}
	return book.KeptCapture{}, fmt.Errorf("%w: no record of test point %q", book.ErrNotFound, point)
}

// kept reads a record from the book and says what it shows.
func (b *Bench) kept(ctx context.Context, about keptRecord, copied book.SheetCopy) (SeenRecord, error) {
	seen := SeenRecord{TestPoint: about.TestPoint, Instrument: about.Instrument, Soak: about.Soak, Round: about.round}
	sheet, err := b.SheetOf(copied)
	if err != nil {
		return seen, err
	}
	if seen.Capture, err = b.options.Book.Capture(ctx, about.ID); err != nil {
		return seen, err
	}
	return seen.analysed(sheet)
}

// analysed adds what a record says by a sheet.
func (s SeenRecord) analysed(sheet checks.Sheet) (SeenRecord, error) {
	point, known := pointOf(sheet, s.TestPoint)
	if !known {
		return s, fmt.Errorf("%w: sheet %s has no test point %q", book.ErrNotFound, sheet.Name, s.TestPoint)
	}
	if !point.IsComposite() {
		reduced, err := reduce(s.Capture, point, sheet, besideOf(point))
		s.Readings, s.Findings, s.Spectrum = reduced.readings, reduced.findings, reduced.spectrum
		return s, err
	}
	result, err := analyseVideo(s.Capture, point, sheet)
	if err != nil {
		return s, fmt.Errorf("a record of %s: %w", s.TestPoint, err)
	}
	s.Readings, s.Findings = result.Readings(s.At), result.Findings
	s.Line = result.MeanLine(video.FromCapture(s.Capture), linePoints, lineMost)
	if len(result.LineStartSeconds) > 0 {
		s.SyncSeconds = result.LineStartSeconds[0]
	}
	return s, nil
}
