package book

import (
	"cmp"
	"container/heap"
	"context"
	"database/sql"
	"iter"
	"slices"
	"time"

	"soakline/checks"
	"soakline/device"
)

// Filter picks series and a time. An empty field picks all.
type Filter struct {
	Bench      string
	Console    checks.ConsoleName
	Unit       checks.UnitID
	TestPoint  checks.TestPointName
	Instrument string
	Measure    device.Measure
	// Since is the first moment that counts, Until the first that does not; zero
	// is no bound.
	Since, Until time.Time
	// Soak, if not 0, narrows all this to the soak's bench, unit and time.
	Soak SoakID
}

// Readings streams the readings that match a filter in time order, those of one
// microsecond in the order of their tags as an export shows them. Memory does not grow with their number.
// An error ends the sequence.
func (b *Book) Readings(ctx context.Context, filter Filter) iter.Seq2[TaggedReading, error] {
	return func(yield func(TaggedReading, error) bool) {
		if err := b.stream(ctx, filter, yield); err != nil {
			yield(TaggedReading{}, b.fail("read readings", err))
		}
	}
}

// SoakReadings streams the readings of a soak in time order: those of its bench
// and unit from its begin to its end, both included.
func (b *Book) SoakReadings(ctx context.Context, id SoakID) iter.Seq2[TaggedReading, error] {
	return b.Readings(ctx, Filter{Soak: id})
}

// stream merges the series' readers; it returns nil when yield wants no more.
func (b *Book) stream(ctx context.Context, filter Filter, yield func(TaggedReading, error) bool) error {
	found, within, err := b.scope(ctx, filter)
	if err != nil {
		return err
	}
	merged, err := b.merge(ctx, found, within)
	if err != nil {
		return err
	}
	for len(merged) > 0 {
		first := merged[0]
		tag := first.reader.series.tag
		if !yield(TaggedReading{Tag: tag, Reading: first.head.reading(tag.Measure)}, nil) {
			return nil
		}
		first.reader.take()
		if err := merged.advance(ctx); err != nil {
			return err
		}
	}
	return nil
}

// merge makes the readers of series, the earliest reading on top.
func (b *Book) merge(ctx context.Context, found []series, within span) (mergeHeap, error) {
	shot, err := b.snapshot(ctx, found, within)
	if err != nil {
		return nil, err
	}
	var decoder blockReader
	var merged mergeHeap
	for _, s := range found {
		reader := newSeriesReader(b, s, within, shot, &decoder)
		head, err := reader.head(ctx)
		if err != nil {
			return nil, err
		}
		if head != nil {
			merged = append(merged, mergeEntry{reader, head})
		}
	}
	heap.Init(&merged)
	return merged, nil
}

// mergeHeap keeps the reader with the earliest reading on top.
type mergeHeap []mergeEntry

// mergeEntry is a reader with the figure that it gives next.
type mergeEntry struct {
	reader *seriesReader
	head   *figure
}

func (h mergeHeap) Len() int      { return len(h) }
func (h mergeHeap) Swap(i, j int) { h[i], h[j] = h[j], h[i] }
func (h mergeHeap) Less(i, j int) bool {
	if h[i].head.at != h[j].head.at {
		return h[i].head.at < h[j].head.at
	}
	a, b := h[i].reader, h[j].reader
	return cmp.Or(a.shown.Compare(b.shown), a.series.tag.Compare(b.series.tag)) < 0
}

// Push and Pop serve container/heap.
func (h *mergeHeap) Push(x any) { *h = append(*h, x.(mergeEntry)) }

// Pop takes the last reader off.
func (h *mergeHeap) Pop() any {
	last := (*h)[len(*h)-1]
	*h = (*h)[:len(*h)-1]
	return last
}

// advance puts the top in order again after its reading was taken.
func (h *mergeHeap) advance(ctx context.Context) error {
	head, err := (*h)[0].reader.head(ctx)
	if err != nil {
		return err
	}
	if head == nil {
		heap.Pop(h)
	} else {
		(*h)[0].head = head
		heap.Fix(h, 0)
	}
	return nil
}

// scope turns a filter into series and an interval.
func (b *Book) scope(ctx context.Context, filter Filter) ([]series, span, error) {
	if filter.Soak != 0 {
		soak, err := b.Soak(ctx, filter.Soak)
		if err != nil {
			return nil, span{}, err
		}
		filter = filter.narrowed(soak)
	}
	found, err := b.series(ctx, filter)
	return found, spanOf(filter.Since, filter.Until), err
}

// narrowed returns the filter within a soak; where the two contradict each other,
// nothing is left.
func (f Filter) narrowed(s Soak) Filter {
	if f.Since.Before(s.Begin) {
		f.Since = s.Begin
	}
	if after := s.End.Add(time.Microsecond); !s.End.IsZero() && (f.Until.IsZero() || f.Until.After(after)) {
		f.Until = after
	}
	if f.Bench != "" && f.Bench != s.Bench || f.Unit != "" && f.Unit != s.Unit {
		f.Until = f.Since
	}
	f.Bench, f.Unit, f.Soak = s.Bench, s.Unit, 0
	return f
}

func (b *Book) series(ctx context.Context, f Filter) ([]series, error) {
	const query = `SELECT id, bench, console, unit, test_point, instrument, measure FROM series
		WHERE (?1 = '' OR bench = ?1) AND (?2 = '' OR console = ?2) AND (?3 = '' OR unit = ?3)
		AND (?4 = '' OR test_point = ?4) AND (?5 = '' OR instrument = ?5) AND (?6 = '' OR measure = ?6)`
	args := []any{f.Bench, string(f.Console), string(f.Unit), string(f.TestPoint), f.Instrument, string(f.Measure)}
	found, err := collect(ctx, b, "list series", query, args, func(rows *sql.Rows) (series, error) {
		var s series
		t := &s.tag
		err := rows.Scan(&s.id, &t.Bench, &t.Console, &t.Unit, &t.TestPoint, &t.Instrument, &t.Measure)
		return s, err
	})
	slices.SortFunc(found, func(a, b series) int { return a.tag.Compare(b.tag) })
	return found, err
}

// sortByTime orders losses by their begin, then by tag.
func sortByTime(losses []Loss) {
	slices.SortStableFunc(losses, func(a, b Loss) int {
		return cmp.Or(a.From.Compare(b.From), a.Tag.Compare(b.Tag))
	})
}
