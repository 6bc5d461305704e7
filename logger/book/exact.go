package book

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"runtime"

	"golang.org/x/sync/errgroup"
)

// exact counts each reading in its own interval. Blocks that lie in one are taken
// from their summaries, the others are decoded, on as many processors as there are.
func (q *envelopeQuery) exact(ctx context.Context) ([]Bucket, error) {
	cells := make([]summary, q.grid.n)
	var cut []int64 // blocks to decode
	err := q.summaries(ctx, func(s blockSummary) error {
		inside := s.first >= q.grid.from && s.last < q.grid.until
		if i := q.grid.index(max(s.first, q.grid.from)); inside && s.last < q.grid.edge(i+1) {
			cells[i].add(s.summary)
			return nil
		}
		cut = append(cut, s.id)
		return nil
	})
	if err != nil {
		return nil, err
	}
	if err := q.thinned(ctx, q.into(cells)); err != nil {
		return nil, err
	}
	if err := q.decode(ctx, cells, cut); err != nil {
		return nil, err
	}
	q.addFigures(cells, q.tail)
	buckets := make([]Bucket, q.grid.n)
	for i := range buckets {
		buckets[i] = q.grid.bucket(i, cells[i])
	}
	return buckets, nil
}

// decode adds the readings of blocks to cells.
func (q *envelopeQuery) decode(ctx context.Context, cells []summary, cut []int64) error {
	const enough = 32 // blocks that are worth a processor
	workers := max(1, min(runtime.GOMAXPROCS(0), maxReaders, len(cut)/enough))
	parts := make([][]summary, workers)
	group, ctx := errgroup.WithContext(ctx)
	for w := range workers {
		mine := cut[len(cut)*w/workers : len(cut)*(w+1)/workers]
		parts[w] = make([]summary, len(cells))
		group.Go(func() error { return q.decodePart(ctx, parts[w], mine) })
	}
	if err := group.Wait(); err != nil {
		return err
	}
	for _, part := range parts {
		for i := range part {
			if part[i].count > 0 {
				cells[i].add(part[i])
			}
		}
	}
	return nil
}

// selectBlocks gives blocks in the order of a list of their ids (JSON): one query
// for all of them takes half the time of a query for each.
const selectBlocks = `SELECT wanted.value, data FROM json_each(?) AS wanted LEFT JOIN block_data ON block_data.id = wanted.value
	ORDER BY wanted.key`

func (q *envelopeQuery) decodePart(ctx context.Context, cells []summary, ids []int64) error {
	if len(ids) == 0 {
		return nil
	}
	list, err := json.Marshal(ids)
	if err != nil {
		return err
	}
	rows, err := q.book.query(ctx, selectBlocks, string(list))
	if err != nil {
		return err
	}
	defer rows.Close()
	var reader numberReader
	for rows.Next() {
		var id int64
		var data sql.RawBytes
		if err := rows.Scan(&id, &data); err != nil {
			return err
		}
		if data == nil && q.book.thinnedNow(ctx, id) {
			return q.book.refuse("read an envelope", ErrBusy, "block %d was thinned meanwhile; ask again", id)
		}
		if data == nil {
			return missingBlock(id, sql.ErrNoRows)
		}
		if err := reader.read(q.series.id, data); err != nil {
			return damagedBlock(q.series.tag, id, err)
		}
		reader.addTo(cells, q.grid)
	}
	return rows.Err()
}

// numberReader reads of a block what a chart needs: times and values. Where all
// are digits of one exponent it computes with coefficients, which is quicker, and
// exact.
type numberReader struct {
	blockReader
	at, coefficients []int64
	exponent         int32
	whole            bool // coefficients and exponent hold; else figures
	figures          []figure
}

func (n *numberReader) read(series int64, data []byte) error {
	body, err := cutSum(data)
	if err != nil {
		return err
	}
	count := n.begin(body)
	if n.err == nil && n.series != series {
		n.err = fmt.Errorf("it is of series %d", n.series)
	}
	if n.err != nil {
		return n.err
	}
	if cap(n.at) < count {
		n.at, n.coefficients = make([]int64, mostInBlock), make([]int64, mostInBlock)
	}
	n.at, n.coefficients = n.at[:count], n.coefficients[:count]
	n.times(n.at)
	kind, plain := n.constant()
	exponent, one := n.constant()
	if n.err == nil && plain && one && kind == int64(figureDecimal) && exponent == int64(int32(exponent)) { // #nosec G115 -- what is checked
		n.whole, n.exponent = true, int32(exponent) // #nosec G115 -- checked above
		n.column(n.coefficients)
		return n.err
	}
	n.whole = false
	n.figures, err = n.blockReader.figures(n.figures[:0], body)
	return err
}

// addTo adds what was read to the cells of a grid.
func (n *numberReader) addTo(cells []summary, g grid) {
	if !n.whole {
		q := envelopeQuery{grid: g}
		q.addFigures(cells, g.of(n.figures))
		return
	}
	at, coefficients := n.at, n.coefficients
	for len(at) > 0 && at[0] < g.from {
		at, coefficients = at[1:], coefficients[1:]
	}
	for len(at) > 0 && at[0] < g.until {
		i := g.index(at[0])
		end := g.edge(i + 1)
		s, low, high, sum := summary{first: at[0]}, coefficients[0], coefficients[0], wholeSum{}
		k := 0
		for ; k < len(at) && at[k] < end; k++ {
			c := coefficients[k]
			low, high = min(low, c), max(high, c)
			sum.add(c)
		}
		s.count, s.last = int64(k), at[k-1]
		s.low, s.high, s.sum = decimalValue(low, n.exponent), decimalValue(high, n.exponent), sum.value(n.exponent)
		cells[i].add(s)
		at, coefficients = at[k:], coefficients[k:]
	}
}

// constant reads a column whose numbers are all the same; if it is another, ok is
// false and nothing is read.
func (r *blockReader) constant() (v int64, ok bool) {
	if len(r.rest) < 2 || r.rest[0] != predictNone || r.rest[1] != 0 {
		return 0, false
	}
	r.rest = r.rest[2:]
	return r.varint(), true
}

// wholeSum adds coefficients up; what 64 bits cannot hold is rounded.
type wholeSum struct {
	low  int64
	high float64 // what would not fit, in coefficients
}

func (s *wholeSum) add(c int64) {
	sum := s.low + c
	if (s.low^sum)&(c^sum) < 0 { // beyond 64 bits
		s.high += float64(s.low)
		sum = c
	}
	s.low = sum
}

func (s *wholeSum) value(exponent int32) float64 {
	if s.high == 0 {
		return decimalValue(s.low, exponent)
	}
	return s.high*pow10(exponent) + decimalValue(s.low, exponent)
}
