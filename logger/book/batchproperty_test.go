package book

import (
	"context"
	"errors"
	"math"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"soakline/checks"
)

// drawnBatch is readings that are committed together.
type drawnBatch struct {
	readings []TaggedReading
	// refused counts those that no book can keep.
	refused int
}

// drawBatches makes readings of two series: figures of every kind (anyFigure: 1970 to
// 2200, both zeros, 1e-300 to 1e300, 17 digits), equal times, times that go back, and
// what is no number or has no time.
func drawBatches(t *rapid.T) []drawnBatch {
	batches := make([]drawnBatch, rapid.IntRange(1, 4).Draw(t, "batches"))
	at := begin.UnixMicro()
	for i := range batches {
		for _, f := range rapid.SliceOfN(rapid.Custom(anyFigure), 0, 40).Draw(t, "figures") {
			switch rapid.IntRange(0, 3).Draw(t, "time") {
			case 0: // any
			case 1:
				f.at = at
			case 2:
				f.at = at - rapid.Int64Range(0, 5_000_000).Draw(t, "back")
			default:
				at += rapid.Int64Range(1, 5_000_000).Draw(t, "on")
				f.at = at
			}
			tag := rail
			tag.TestPoint = rapid.SampledFrom([]checks.TestPointName{"a", "b"}).Draw(t, "point")
			r := TaggedReading{tag, f.reading(tag.Measure)}
			if rarely(t, "no number") {
				r.Value = rapid.SampledFrom([]float64{math.NaN(), math.Inf(1), math.Inf(-1)}).Draw(t, "which")
				batches[i].refused++
			}
			batches[i].readings = append(batches[i].readings, r)
		}
	}
	return batches
}

// wantOf is what the book must give of batches, and how many of the readings were
// older than the newest of their series.
func wantOf(batches []drawnBatch) (kept []TaggedReading, backwards int) {
	newest := map[Tag]time.Time{}
	for _, batch := range batches {
		for _, r := range batch.readings {
			if math.IsNaN(r.Value) || math.IsInf(r.Value, 0) {
				continue
			}
			kept = append(kept, r)
			if last, ok := newest[r.Tag]; ok && r.At.Before(last) {
				backwards++
			} else {
				newest[r.Tag] = r.At
			}
		}
	}
	slices.SortStableFunc(kept, func(a, b TaggedReading) int {
		if !a.At.Equal(b.At) {
			return a.At.Compare(b.At)
		}
		return a.Tag.Compare(b.Tag)
	})
	return kept, backwards
}

// TestAnyBatchesComeBack: what is written comes back bit for bit, ordered by time and
// then by arrival, after any commit and after the book was opened anew; what goes back
// in time is counted, what is no number is refused and named, and keeps nothing else
// from being kept.
func TestAnyBatchesComeBack(t *testing.T) {
	set(t, "rapid.checks", "30")
	ctx := context.WithoutCancel(t.Context())
	rapid.Check(t, func(rt *rapid.T) {
		b := openNew(t)
		j, backwards, batches := newJournal(), 0, drawBatches(rt)
		for i := range batches {
			out, err := b.store(ctx, &batch{readings: batches[i].readings}, j)
			if err != nil || len(out.refused) != batches[i].refused || len(out.lost) != batches[i].refused {
				rt.Fatalf("batch %d: refused %v (%v), want %d", i, out.refused, err, batches[i].refused)
			}
			for _, refused := range out.refused {
				if !errors.Is(refused, ErrInvalid) {
					rt.Fatalf("refused with %v", refused)
				}
			}
			backwards += out.backwards
			if rapid.Bool().Draw(rt, "another writer") {
				j = newJournal()
			}
		}
		want, wantBackwards := wantOf(batches)
		if backwards != wantBackwards {
			rt.Fatalf("%d readings went back in time, want %d", backwards, wantBackwards)
		}
		for _, opened := range []*Book{b, openAt(t, b.Path(), Options{ReadOnly: true})} {
			got := readAll(t, opened, Filter{})
			if len(got) != len(want) {
				rt.Fatalf("%d readings, want %d", len(got), len(want))
			}
			for i := range got {
				if got[i].Tag != want[i].Tag || !sameReading(got[i].Reading, want[i].Reading) {
					rt.Fatalf("reading %d is %+v, want %+v", i, got[i], want[i])
				}
			}
		}
	})
}
