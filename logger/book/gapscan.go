package book

import (
	"context"
	"math"
	"time"
)

// SeriesGap is an interval without a reading of a series. From and To are the times of
// the readings before and after it, or a bound of what was asked for.
type SeriesGap struct {
	Tag      Tag
	From, To time.Time
}

// FindGaps lists where the series that match a filter have no reading for longer than
// a time, in the order of their tags and then of time. Since and Until count as ends of
// a gap if they are given, and so do a soak's begin and end; a series that has no
// reading at all between them is left out. Intervals of which only envelopes are left
// count as covered. Of blocks only those are looked into that span more than the time,
// and of these only the times are decoded, unless blocks overlap: clocks go back.
func (b *Book) FindGaps(ctx context.Context, filter Filter, longer time.Duration) ([]SeriesGap, error) {
	const doing = "find gaps"
	if longer < time.Microsecond {
		return nil, b.refuse(doing, ErrInvalid, "gaps longer than %v: the shortest time is 1 µs", longer)
	}
	found, within, err := b.scope(ctx, filter)
	if err != nil {
		return nil, err
	}
	shot, err := b.snapshot(ctx, found, within)
	if err != nil {
		return nil, b.fail(doing, err)
	}
	var all []SeriesGap
	for _, s := range found {
		scan := gapScan{book: b, series: s, within: within, shot: shot, longer: longer.Microseconds()}
		if err := scan.run(ctx); err != nil {
			return nil, b.fail(doing, err)
		}
		for _, gap := range scan.gaps {
			all = append(all, SeriesGap{s.tag, fromMicro(gap.from), fromMicro(gap.until)})
		}
	}
	return all, nil
}

// gapScan looks for gaps of one series, in time order.
type gapScan struct {
	book    *Book
	series  series
	within  span
	shot    snapshot
	longer  int64    // microseconds
	tail    []figure // what is left of it
	refs    refs
	decoder numberReader
	decoded int // blocks

	reach int64 // the last reading so far, or where the span begins
	some  bool  // there was a reading
	gaps  []span
}

func (g *gapScan) run(ctx context.Context) error {
	g.reach, g.tail = g.within.from, g.shot.tails[g.series.id]
	g.refs = refs{series: g.series.id, within: g.within, upTo: g.shot.upTo[g.series.id]}
	for {
		s, err := g.next(ctx)
		if err != nil {
			return err
		}
		if s.blocks == 0 {
			break
		}
		g.readings(g.tailBefore(s.from))
		if err := g.look(ctx, s); err != nil {
			return err
		}
	}
	g.readings(g.tailBefore(math.MaxInt64))
	if !g.some {
		return nil
	}
	if g.within.until != math.MaxInt64 {
		g.reading(g.within.until)
	}
	covered, err := g.book.thinnedSpans(ctx, g.series.id)
	for _, c := range covered {
		g.cover(c)
	}
	return err
}

// stretch is blocks of which each overlaps one before; until is past its end.
type stretch struct {
	span
	first  int64 // block
	blocks int
}

// next gathers the next blocks that overlap.
func (g *gapScan) next(ctx context.Context) (s stretch, err error) {
	for {
		ref, err := g.refs.peek(ctx, g.book)
		if err != nil || ref == nil || s.blocks > 0 && ref.first >= s.until {
			return s, err
		}
		if s.blocks == 0 {
			s.from, s.first = ref.first, ref.id
		}
		s.until = max(s.until, ref.last+1)
		s.blocks++
		g.refs.take()
	}
}

// tailBefore takes from the tail what is before a time.
func (g *gapScan) tailBefore(at int64) []figure {
	n := g.within.firstNotBefore(g.tail, at)
	taken := g.tail[:n]
	g.tail = g.tail[n:]
	return taken
}

// look goes through a stretch.
func (g *gapScan) look(ctx context.Context, s stretch) error {
	among := g.tailBefore(s.until)
	begin, end := max(s.from, g.within.from), min(s.until, g.within.until)
	switch {
	case s.until-1-s.from <= g.longer: // no gap has room in it
		g.reading(begin)
		g.reach = max(g.reach, end-1)
		return nil
	case s.blocks == 1 && len(among) == 0:
		return g.times(ctx, s.first)
	}
	shot := snapshot{upTo: g.shot.upTo, tails: map[int64][]figure{g.series.id: among}}
	reader := newSeriesReader(g.book, g.series, span{begin, end}, shot, &blockReader{})
	for {
		head, err := reader.head(ctx)
		if err != nil || head == nil {
			return err
		}
		g.reading(head.at)
		reader.take()
	}
}

// times goes through the times of a block.
func (g *gapScan) times(ctx context.Context, id int64) error {
	g.decoded++
	data, err := g.book.blockData(ctx, id)
	if err != nil {
		return err
	}
	body, err := cutSum(data)
	if err == nil {
		err = g.decoder.count(g.series.id, body)
	}
	if err == nil {
		g.decoder.times(g.decoder.at)
		err = g.decoder.err
	}
	if err != nil {
		return damagedBlock(g.series.tag, id, err)
	}
	for _, at := range g.decoder.at {
		if at >= g.within.from && at < g.within.until {
			g.reading(at)
		}
	}
	return nil
}

func (g *gapScan) readings(figures []figure) {
	for i := range figures {
		g.reading(figures[i].at)
	}
}

// reading goes on to the next reading, or to the end of the span.
func (g *gapScan) reading(at int64) {
	if g.reach != math.MinInt64 && at-g.reach > g.longer {
		g.gaps = append(g.gaps, span{g.reach, at})
	}
	g.reach, g.some = max(g.reach, at), true
}

// cover takes out of the gaps what there are envelopes of.
func (g *gapScan) cover(by span) {
	var left []span
	for _, gap := range g.gaps {
		if by.until <= gap.from || by.from >= gap.until {
			left = append(left, gap)
			continue
		}
		for _, part := range []span{{gap.from, by.from}, {by.until - 1, gap.until}} {
			if part.until-part.from > g.longer {
				left = append(left, part)
			}
		}
	}
	g.gaps = left
}
