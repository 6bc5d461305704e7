package logger

import (
	"context"
	"fmt"
	"time"

	"soakline/checks"
	"soakline/checks/audio"
	"soakline/logger/book"
)

// AudioRecord is what a record of an audio output says: the latest that a round took,
// or one of a soak.
type AudioRecord struct {
	// Round is zero where the record is of a soak, Kind and At are the record's.
	Round     book.Round
	Kind      book.CaptureKind
	At        time.Time
	TestPoint checks.TestPointName
	audio.Result
}

// AudioRecords analyses the latest record that each round took of each audio output
// of the sheet. A round without such a record is left out. The channels of one
// acquisition are kept apart, so that balance is not among the figures here.
func AudioRecords(ctx context.Context, from *book.Book, sheet checks.Sheet, rounds ...book.Round) ([]AudioRecord, error) {
	var all []AudioRecord
	for _, round := range rounds {
		latest, err := latestCaptures(ctx, from, round.ID)
		if err != nil {
			return nil, err
		}
		for _, point := range sheet.TestPoints {
			kept, ok := latest[point.Name]
			if point.Audio == nil || !ok {
				continue
			}
			record, err := keptAudio(ctx, from, kept, point)
			if err != nil {
				return nil, fmt.Errorf("the record of round %q at %s: %w", round.Label, point.Name, err)
			}
			record.Round = round
			all = append(all, record)
		}
	}
	return all, nil
}

// SoakAudioRecords analyses the records of audio outputs that a soak kept at its begin
// and at its end.
func SoakAudioRecords(ctx context.Context, from *book.Book, sheet checks.Sheet, soak book.SoakID) ([]AudioRecord, error) {
	kept, err := from.SoakCaptures(ctx, soak)
	if err != nil {
		return nil, err
	}
	var all []AudioRecord
	for _, k := range kept {
		point, ok := pointOf(sheet, k.TestPoint)
		if !ok || point.Audio == nil || k.Kind != book.CaptureBegin && k.Kind != book.CaptureEnd {
			continue
		}
		record, err := keptAudio(ctx, from, k, point)
		if err != nil {
			return nil, fmt.Errorf("a record of soak %d at %s: %w", soak, k.TestPoint, err)
		}
		all = append(all, record)
	}
	return all, nil
}

// keptAudio analyses a record that the book keeps.
func keptAudio(ctx context.Context, from *book.Book, kept book.KeptCapture, point checks.TestPoint) (AudioRecord, error) {
	record, err := from.Capture(ctx, kept.ID)
	if err != nil {
		return AudioRecord{}, err
	}
	result, err := analyseAudio(record, point)
	return AudioRecord{Kind: kept.Kind, At: kept.At, TestPoint: point.Name, Result: result}, err
}

// latestCaptures is the last record of each test point of a round.
func latestCaptures(ctx context.Context, from *book.Book, round book.RoundID) (map[checks.TestPointName]book.KeptCapture, error) {
	kept, err := from.RoundCaptures(ctx, round)
	latest := map[checks.TestPointName]book.KeptCapture{}
	for _, k := range kept {
		latest[k.TestPoint] = k
	}
	return latest, err
}

// CompareAudio adds to a comparison what the records of its audio outputs say: each
// change in dB, at which level it is, and whether it matters.
func (c *Comparison) CompareAudio(ctx context.Context, from *book.Book, sheet checks.Sheet) error {
	earlier, err := AudioRecords(ctx, from, sheet, c.Before)
	if err != nil {
		return err
	}
	now, err := AudioRecords(ctx, from, sheet, c.After)
	if err != nil {
		return err
	}
	for _, after := range now {
		for _, before := range earlier {
			if before.TestPoint != after.TestPoint {
				continue
			}
			changes, err := audio.Compare(before.Result, after.Result)
			if err != nil {
				return fmt.Errorf("test point %s: %w", after.TestPoint, err)
			}
			c.Audio = append(c.Audio, changes...)
		}
	}
	return nil
}
