package book

import (
	"context"
	"database/sql"
	"errors"
	"math"
	"time"
)

// Bucket is what a chart shows of the readings in an interval.
type Bucket struct {
	// From is the interval's begin, Until its end, which is not part of it.
	From, Until time.Time
	Count       int64
	// Low, High and Mean are NaN where there are no readings.
	Low, High, Mean float64
}

// Envelope is a series as a chart shows it.
type Envelope struct {
	Tag     Tag
	Buckets []Bucket
}

// blocksInBucket is how many blocks an interval of a chart has before its ends are
// moved to those of blocks.
const blocksInBucket = 4

// mostBuckets bounds what a query may ask for.
const mostBuckets = 100_000

// Envelopes cuts the filter's time into n intervals of one length and gives for
// each series what its readings do in each, exactly. Where Since or Until is zero
// the oldest or newest reading that matches stands for it. Only blocks that an
// interval's end cuts through are decoded.
func (b *Book) Envelopes(ctx context.Context, filter Filter, n int) ([]Envelope, error) {
	return b.envelopes(ctx, filter, n, (*envelopeQuery).exact)
}

// Overviews is like Envelopes, but decodes nothing: a block counts whole in the
// interval in which it begins, and the buckets say from when to when their readings
// really are; those without are left out. It is for times that are long against a
// block, which has about 2,000 readings.
func (b *Book) Overviews(ctx context.Context, filter Filter, n int) ([]Envelope, error) {
	return b.envelopes(ctx, filter, n, (*envelopeQuery).coarse)
}

// Charts is Envelopes where the intervals are short against a block, and Overviews
// where they are so long that a chart shows no difference: it takes much the same
// time for a day and for a month.
func (b *Book) Charts(ctx context.Context, filter Filter, n int) ([]Envelope, error) {
	return b.envelopes(ctx, filter, n, func(q *envelopeQuery, ctx context.Context) ([]Bucket, error) {
		const blocks = `SELECT count(*) FROM (SELECT 1 FROM overview WHERE series = ? AND first_us >= ? AND until_us < ? LIMIT ?)`
		var have int
		enough := n * blocksInBucket / inOverview
		err := b.queryOne(ctx, blocks, []any{q.series.id, q.grid.from, q.grid.until, enough + 1}, []any{&have})
		if err != nil {
			return nil, err
		}
		if have > enough {
			return q.coarse(ctx)
		}
		return q.exact(ctx)
	})
}

// envelopeQuery is one series of a query.
type envelopeQuery struct {
	book   *Book
	series series
	grid   grid
	tail   []figure
	upTo   int64
}

func (b *Book) envelopes(ctx context.Context, filter Filter, n int, buckets func(*envelopeQuery, context.Context) ([]Bucket, error)) ([]Envelope, error) {
	const doing = "read an envelope"
	if n < 1 || n > mostBuckets {
		return nil, b.refuse(doing, ErrInvalid, "%d buckets; there can be 1 to %d", n, mostBuckets)
	}
	found, within, err := b.scope(ctx, filter)
	if err != nil {
		return nil, err
	}
	shot, err := b.snapshot(ctx, found, within)
	if err != nil {
		return nil, b.fail(doing, err)
	}
	within, err = b.extent(ctx, found, within, shot)
	if err != nil || within.until <= within.from {
		return nil, b.fail(doing, err)
	}
	var all []Envelope
	for _, s := range found {
		q := &envelopeQuery{book: b, series: s, grid: grid{span: within, n: n}, tail: shot.tails[s.id], upTo: shot.upTo[s.id]}
		cells, err := buckets(q, ctx)
		if err != nil {
			return nil, b.fail(doing, err)
		}
		all = append(all, Envelope{Tag: s.tag, Buckets: cells})
	}
	return all, nil
}

// extent puts the oldest and the newest reading in place of bounds that are open.
func (b *Book) extent(ctx context.Context, found []series, within span, shot snapshot) (span, error) {
	const oldest = `SELECT first_us FROM block WHERE series = ? AND last_us >= ? AND id <= ? ORDER BY first_us LIMIT 1`
	begin, end := int64(math.MaxInt64), int64(math.MinInt64)
	for _, s := range found {
		if tail := shot.tails[s.id]; len(tail) > 0 {
			begin, end = min(begin, tail[0].at), max(end, tail[len(tail)-1].at+1)
		}
		if within.from == math.MinInt64 {
			first := begin
			err := b.queryOne(ctx, oldest, []any{s.id, within.from, shot.upTo[s.id]}, []any{&first})
			if err != nil && !errors.Is(err, sql.ErrNoRows) {
				return within, err
			}
			begin = min(begin, first)
		}
		thinned, err := b.thinnedSpans(ctx, s.id)
		if err != nil {
			return within, err
		}
		if n := len(thinned); n > 0 {
			begin, end = min(begin, thinned[0].from), max(end, thinned[n-1].until)
		}
		if within.until == math.MaxInt64 {
			newest, err := b.lastOf(ctx, s, within, shot, &blockReader{})
			if err != nil {
				return within, err
			}
			if newest != nil {
				end = max(end, newest.at+1)
			}
		}
	}
	if within.from == math.MinInt64 {
		within.from = begin
	}
	if within.until == math.MaxInt64 {
		within.until = end
	}
	return within, nil
}

// grid cuts a span into n intervals of one length, to the microsecond.
type grid struct {
	span
	n int
}

// edge is the begin of interval i, and the end of the one before.
func (g grid) edge(i int) int64 {
	length, n, k := g.until-g.from, int64(g.n), int64(i)
	return g.from + length/n*k + length%n*k/n
}

// index is the interval of a time within the span.
func (g grid) index(at int64) int {
	i := int(float64(at-g.from) / float64(g.until-g.from) * float64(g.n))
	i = max(0, min(i, g.n-1))
	for i > 0 && at < g.edge(i) {
		i--
	}
	for i < g.n-1 && at >= g.edge(i+1) {
		i++
	}
	return i
}

// bucket is interval i with what is in it.
func (g grid) bucket(i int, s summary) Bucket {
	return s.bucket(g.edge(i), g.edge(i+1))
}

func (s summary) bucket(from, until int64) Bucket {
	nan := math.NaN()
	bucket := Bucket{From: fromMicro(from), Until: fromMicro(until), Low: nan, High: nan, Mean: nan}
	if s.count > 0 {
		bucket.Count, bucket.Low, bucket.High, bucket.Mean = s.count, s.low, s.high, s.sum/float64(s.count)
	}
	return bucket
}

// blockSummary is a block with what an overview needs to know of it.
type blockSummary struct {
	id int64
	summary
}

func scanSummary(rows *sql.Rows) (blockSummary, error) {
	var s blockSummary
	err := rows.Scan(&s.id, &s.first, &s.last, &s.count, &s.low, &s.high, &s.sum)
	return s, err
}

// coarse adds up summaries.
func (q *envelopeQuery) coarse(ctx context.Context) ([]Bucket, error) {
	cells := make([]summary, q.grid.n)
	if err := errors.Join(q.summaries(ctx, q.into(cells)), q.thinned(ctx, q.into(cells))); err != nil {
		return nil, err
	}
	q.addFigures(cells, q.tail)
	var buckets []Bucket
	for _, cell := range cells {
		if cell.count > 0 {
			buckets = append(buckets, cell.bucket(cell.first, cell.last+1))
		}
	}
	return buckets, nil
}

// into adds summaries whole to the cell in which they begin.
func (q *envelopeQuery) into(cells []summary) func(blockSummary) error {
	return func(s blockSummary) error {
		cells[q.grid.index(max(s.first, q.grid.from))].add(s.summary)
		return nil
	}
}

// addFigures adds figures in time order to the cells in which they lie.
func (q *envelopeQuery) addFigures(cells []summary, figures []figure) {
	for len(figures) > 0 {
		i := q.grid.index(figures[0].at)
		n := q.grid.firstNotBefore(figures, q.grid.edge(i+1))
		cells[i].add(summarize(figures[:n]))
		figures = figures[n:]
	}
}
