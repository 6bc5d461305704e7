package book

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math"
	"slices"
)

// journal is the writer's memory of what is in the book's tail: the readings that
// are in no block yet. It holds what was committed; after a failed commit it has
// to forget, and reads the tail again.
type journal struct {
	loaded bool
	first  int64 // the oldest row of the tail
	next   int64 // the row that the next commit writes
	byTag  map[Tag]*openSeries
	byID   map[int64]*openSeries
	recent [256]*openSeries // found again without hashing six strings
	writer *blockWriter
}

// openSeries is a series with the readings that are in no block yet, in the order
// of their arrival.
type openSeries struct {
	series
	figures []figure
	fresh   int   // figures from here on came with this commit
	since   int64 // the oldest row of the tail that has some of the figures
	sealed  bool  // with this commit
	// newest is the newest reading's time, reach that of the newest in a block.
	newest, reach int64
	target        int // how many readings are likely to fill a page
	clause        clause
	left          int // blocks that are in no overview, but for late ones
	touched       bool
}

// usual is how many readings fill a page in most series.
const usual = 1600

func newJournal() *journal { return &journal{} }

// forget has the journal read from the book before it is used again.
func (j *journal) forget() { *j = journal{writer: j.writer} }

// load reads the tail.
func (j *journal) load(ctx context.Context, tx *sql.Tx) error {
	if j.loaded {
		return nil
	}
	if j.writer == nil {
		j.writer = newBlockWriter()
	}
	j.byTag, j.byID = make(map[Tag]*openSeries), make(map[int64]*openSeries)
	j.first, j.next = 1, 1
	rows, err := tx.QueryContext(ctx, `SELECT id, data FROM tail ORDER BY id`)
	if err != nil {
		return err
	}
	defer rows.Close()
	var reader blockReader
	for some := false; rows.Next(); some = true {
		var id int64
		var data sql.RawBytes
		if err := rows.Scan(&id, &data); err != nil {
			return err
		}
		if !some {
			j.first = id
		}
		j.next = id + 1
		if err := reader.readTail(data, nil, func(s section) { j.replay(id, s) }); err != nil {
			return damage{fmt.Errorf("row %d: %w", id, err)}
		}
	}
	j.loaded = rows.Err() == nil
	return rows.Err()
}

func (j *journal) replay(row int64, s section) {
	open, ok := j.byID[s.series]
	if !ok {
		open = newOpenSeries(s.series)
		j.byID[s.series] = open
	}
	if s.whole || len(open.figures) == 0 {
		open.figures, open.since = open.figures[:0], row
	}
	open.figures = append(open.figures, s.figures...)
}

func newOpenSeries(id int64) *openSeries {
	return &openSeries{series: series{id: id}, newest: math.MinInt64, reach: math.MinInt64, target: usual}
}

// open returns the series of a tag, which it makes if there is none.
func (j *journal) open(ctx context.Context, tx *sql.Tx, tag *Tag) (*openSeries, error) {
	slot := &j.recent[quickHash(tag)]
	if *slot != nil && (*slot).tag == *tag {
		return *slot, nil
	}
	if open, ok := j.byTag[*tag]; ok {
		*slot = open
		return open, nil
	}
	id, err := seriesID(ctx, tx, *tag)
	if err != nil {
		return nil, err
	}
	open, ok := j.byID[id]
	if !ok {
		open = newOpenSeries(id)
		j.byID[id] = open
	}
	open.tag = *tag
	if err := open.measure(ctx, tx); err != nil {
		return nil, err
	}
	j.byTag[*tag], *slot = open, open
	return open, nil
}

// quickHash needs only to be quick.
func quickHash(t *Tag) byte {
	h := len(t.Unit)*31 + len(t.Measure)
	if n := len(t.TestPoint); n > 0 {
		h = h*131 + int(t.TestPoint[n-1]) + 7*int(t.TestPoint[0]) + n
	}
	if n := len(t.Unit); n > 0 {
		h = h*131 + int(t.Unit[n-1])
	}
	return byte(h) // #nosec G115 -- meant to wrap
}

// measure finds out how far a series reaches and how well it compresses. The
// newest block that is not late begins after all before it; what reaches further
// can only be late.
func (o *openSeries) measure(ctx context.Context, tx *sql.Tx) error {
	const newest = `SELECT last_us, count FROM block WHERE series = ? AND late = 0 ORDER BY first_us DESC LIMIT 1`
	const late = `SELECT coalesce(max(last_us), ?2) FROM block WHERE series = ?1 AND late = 1`
	var count int64
	err := tx.QueryRowContext(ctx, newest, o.id).Scan(&o.reach, &count)
	switch {
	case err == nil:
		o.target = int(min(max(count, usual/8), mostInBlock))
		if err := tx.QueryRowContext(ctx, late, o.id, o.reach).Scan(&count); err != nil {
			return err
		}
		o.reach = max(o.reach, count)
		if o.left, _, err = overviewed(ctx, tx, o.id); err != nil {
			return err
		}
	case !errors.Is(err, sql.ErrNoRows):
		return err
	}
	o.newest = o.reach
	for i := range o.figures {
		o.newest = max(o.newest, o.figures[i].at)
	}
	return nil
}

// add takes a figure and tells whether it went back in time.
func (o *openSeries) add(f figure) (backwards bool) {
	if !o.touched {
		o.touched, o.fresh, o.sealed = true, len(o.figures), false
		if o.fresh == 0 {
			o.since = 0 // what the tail said of it is in blocks
		}
	}
	o.figures = append(o.figures, f)
	backwards = f.at < o.newest
	o.newest = max(o.newest, f.at)
	return backwards
}

// ordered returns figures in time order, those of one microsecond as they came.
func ordered(figures []figure) []figure {
	earlier := func(a, b figure) int { return compareInt(a.at, b.at) }
	if slices.IsSortedFunc(figures, earlier) {
		return figures
	}
	figures = slices.Clone(figures)
	slices.SortStableFunc(figures, earlier)
	return figures
}

func compareInt(a, b int64) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}
