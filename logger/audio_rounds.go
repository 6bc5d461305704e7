package logger

import (
	"context"
	"fmt"

	"soakline/checks"
	"soakline/checks/audio"
	"soakline/logger/book"
)

// AudioRecord is what the latest record that a round took of an audio output says.
type AudioRecord struct {
	Round     book.Round
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
			record, err := from.Capture(ctx, kept.ID)
			if err != nil {
				return nil, err
			}
			result, err := analyseAudio(record, point)
			if err != nil {
				return nil, fmt.Errorf("the record of round %q at %s: %w", round.Label, point.Name, err)
			}
			all = append(all, AudioRecord{Round: round, TestPoint: point.Name, Result: result})
		}
	}
	return all, nil
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
