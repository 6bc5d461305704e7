package logger

import (
	"context"
	"time"

	"soakline/checks"
	"soakline/checks/video"
	"soakline/logger/book"
)

// VideoLine is the mean line of a round's record, for laying rounds over each
// other: its first point lies StartSeconds (below 0) from the leading edge of sync.
type VideoLine struct {
	// Round is the round that took it; the zero Round if a soak did.
	Round book.Round
	At    time.Time
	Kind  book.CaptureKind
	video.MeanLine
}

// How lines are drawn.
const (
	linePoints = 1440 // twice the width of a sheet of paper in points
	lineMost   = 16   // lines that are averaged
)

// VideoLines returns the mean line of the latest record that each round took of a
// composite output. A round without such a record, or without a whole line in it,
// is left out.
func VideoLines(ctx context.Context, from *book.Book, sheet checks.Sheet, rounds []book.Round) ([]VideoLine, error) {
	var lines []VideoLine
	for _, round := range rounds {
		kept, err := from.RoundCaptures(ctx, round.ID)
		if err != nil {
			return nil, err
		}
		for i := len(kept) - 1; i >= 0; i-- {
			point, ok := pointOf(sheet, kept[i].TestPoint)
			if !ok || !point.IsComposite() {
				continue
			}
			line, err := videoLine(ctx, from, kept[i].ID, point, sheet)
			if err != nil {
				return nil, err
			}
			if line.Lines > 0 {
				lines = append(lines, VideoLine{Round: round, At: kept[i].At, Kind: kept[i].Kind, MeanLine: line})
			}
			break
		}
	}
	return lines, nil
}

// SoakVideoLines returns the mean lines of the records of a composite output that a
// soak kept at its begin and at its end, as far as there are any.
func SoakVideoLines(ctx context.Context, from *book.Book, sheet checks.Sheet, soak book.SoakID) ([]VideoLine, error) {
	kept, err := from.SoakCaptures(ctx, soak)
	if err != nil {
		return nil, err
	}
	var lines []VideoLine
	for _, record := range kept {
		point, ok := pointOf(sheet, record.TestPoint)
		if !ok || !point.IsComposite() || record.Kind != book.CaptureBegin && record.Kind != book.CaptureEnd {
			continue
		}
		line, err := videoLine(ctx, from, record.ID, point, sheet)
		if err != nil {
			return nil, err
		}
		if line.Lines > 0 {
			lines = append(lines, VideoLine{At: record.At, Kind: record.Kind, MeanLine: line})
		}
	}
	return lines, nil
}

// videoLine is the mean line of one kept record.
func videoLine(ctx context.Context, from *book.Book, id book.CaptureID, point checks.TestPoint, sheet checks.Sheet) (video.MeanLine, error) {
	record, err := from.Capture(ctx, id)
	if err != nil {
		return video.MeanLine{}, err
	}
	result, err := analyseVideo(record, point, sheet)
	if err != nil {
		return video.MeanLine{}, err
	}
	return result.MeanLine(video.FromCapture(record), linePoints, lineMost), nil
}
