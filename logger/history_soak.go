package logger

import (
	"context"
	"math"
	"time"

	"soakline/checks"
	"soakline/logger/book"
)

// soakFigures are the figures of one soak.
type soakFigures struct {
	soak    book.Soak
	figures map[checks.CheckKey]HistoryFigure
}

// soakFiguresOf takes the means of a soak's readings out of the book, all of them:
// the time of settling is short against a soak.
func soakFiguresOf(ctx context.Context, from *book.Book, soak book.Soak) (soakFigures, error) {
	s := soakFigures{soak: soak, figures: map[checks.CheckKey]HistoryFigure{}}
	envelopes, err := from.Envelopes(ctx, book.Filter{Soak: soak.ID}, 1)
	if err != nil {
		return s, err
	}
	end := soak.End
	for _, e := range envelopes {
		for _, b := range e.Buckets {
			if b.Count == 0 {
				continue
			}
			if soak.End.IsZero() && b.Until.After(end) {
				end = b.Until
			}
			key := checks.CheckKey{TestPoint: e.Tag.TestPoint, Measure: e.Tag.Measure}
			s.figures[key] = withReadings(s.figures[key], b)
		}
	}
	for key, f := range s.figures {
		f.At, f.Soak = soak.Begin.Add(end.Sub(soak.Begin)/2).Truncate(time.Second), soak.ID
		s.figures[key] = f
	}
	return s, nil
}

// withReadings adds the readings of one more instrument to a figure.
func withReadings(f HistoryFigure, b book.Bucket) HistoryFigure {
	if f.Readings == 0 {
		return HistoryFigure{Kind: OfSoak, Value: b.Mean, U: math.NaN(), Low: b.Low, High: b.High, Readings: b.Count}
	}
	all := f.Readings + b.Count
	f.Value += (b.Mean - f.Value) * float64(b.Count) / float64(all)
	f.Low, f.High, f.Readings = min(f.Low, b.Low), max(f.High, b.High), all
	return f
}
