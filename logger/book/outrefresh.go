package book

import (
	"container/heap"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math"
)

// lookBlocks is how many blocks of a series are listed at once.
const lookBlocks = 256

// Refresh looks for what was committed since the last time. An error rewinds: what
// was seen of a half look does not hold together.
func (o *Outgoing) Refresh(ctx context.Context) error {
	if err := o.lookAndCount(ctx); err != nil {
		o.Rewind()
		return o.book.fail("ship", err)
	}
	o.next = o.next[:0]
	for _, s := range o.series {
		if s.pending > 0 {
			o.next = append(o.next, s)
		}
	}
	heap.Init(&o.next)
	return nil
}

func (o *Outgoing) lookAndCount(ctx context.Context) error {
	tx, err := o.book.reading.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	back, err := o.look(ctx, tx)
	if err = errors.Join(err, tx.Rollback()); err != nil {
		return err
	}
	return back.count(ctx, o.book)
}

// look brings everything up to what a transaction sees.
func (o *Outgoing) look(ctx context.Context, tx *sql.Tx) (*wentBack, error) {
	seen, missed, err := o.tailSince(ctx, tx)
	if err != nil {
		return nil, err
	}
	back := &wentBack{}
	if missed {
		if err := o.lookAtAll(ctx, tx, seen); err != nil {
			return nil, err
		}
	}
	for id, part := range seen {
		s := o.series[id]
		switch {
		case missed: // looked at already
		case s == nil:
			if s, err = o.meet(ctx, tx, id, part.figures); err != nil {
				return nil, err
			}
		case part.whole:
			if err := s.lookAt(ctx, tx, part.figures); err != nil {
				return nil, err
			}
		default:
			s.tail = append(s.tail, part.figures...)
			s.pending += int64(len(part.figures))
		}
		back.consider(s)
	}
	return back, back.shoot(ctx, tx)
}

// tailSince reads the rows of the tail after the newest that was seen. Missed tells
// that rows between are gone, or that this is the first look.
func (o *Outgoing) tailSince(ctx context.Context, tx *sql.Tx) (seen map[int64]section, missed bool, err error) {
	seen, missed = make(map[int64]section), o.row == 0
	rows, err := tx.QueryContext(ctx, `SELECT id, data FROM tail WHERE id > ? ORDER BY id`, o.row)
	if err != nil {
		return nil, false, err
	}
	defer rows.Close()
	for rows.Next() {
		var id int64
		var data sql.RawBytes
		if err := rows.Scan(&id, &data); err != nil {
			return nil, false, err
		}
		missed = missed || id != o.row+1
		o.row = id
		err := o.decoder.readTail(data, nil, func(s section) {
			if had := seen[s.series]; !s.whole {
				s.figures, s.whole = append(had.figures, s.figures...), had.whole
			}
			seen[s.series] = s
		})
		if err != nil {
			return nil, false, damage{fmt.Errorf("row %d: %w", id, err)}
		}
	}
	return seen, missed, rows.Err()
}

// lookAtAll looks at every series.
func (o *Outgoing) lookAtAll(ctx context.Context, tx *sql.Tx, seen map[int64]section) error {
	rows, err := tx.QueryContext(ctx, `SELECT id FROM series`)
	if err != nil {
		return err
	}
	defer rows.Close()
	var all []int64
	for rows.Next() {
		id, err := scanInt(rows)
		if err != nil {
			return err
		}
		all = append(all, id)
	}
	if err := rows.Err(); err != nil {
		return err
	}
	for _, id := range all {
		figures := seen[id].figures
		if s := o.series[id]; s != nil {
			err = s.lookAt(ctx, tx, figures)
		} else {
			_, err = o.meet(ctx, tx, id, figures)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// meet takes up a series.
func (o *Outgoing) meet(ctx context.Context, tx *sql.Tx, id int64, tail []figure) (*outSeries, error) {
	const query = `SELECT bench, console, unit, test_point, instrument, measure FROM series WHERE id = ?`
	found := series{id: id}
	t := &found.tag
	err := tx.QueryRowContext(ctx, query, id).Scan(&t.Bench, &t.Console, &t.Unit, &t.TestPoint, &t.Instrument, &t.Measure)
	if err != nil {
		return nil, err
	}
	at, ok := o.kept.places[id]
	if !ok {
		at = nowhere
	}
	s := newOutSeries(found, at)
	o.series[id] = s
	return s, s.lookAt(ctx, tx, tail)
}

// lookAt finds out what of a series is not given out, where tail is all of it that
// is in no block.
func (s *outSeries) lookAt(ctx context.Context, tx *sql.Tx, tail []figure) error {
	const total = `SELECT coalesce(sum(count), 0), coalesce(max(last_us), ?3) FROM block WHERE series = ?1 AND id > ?2`
	var count int64
	if err := tx.QueryRowContext(ctx, total, s.id, s.at.block, int64(math.MinInt64)).Scan(&count, &s.far); err != nil {
		return err
	}
	if s.at.ahead > count+int64(len(tail)) { // not of this book's making: begin anew
		s.at, s.figures, s.opened = nowhere, nil, false
		return s.lookAt(ctx, tx, tail)
	}
	if err := s.listBlocks(ctx, tx); err != nil {
		return err
	}
	s.tail = tail[max(0, s.at.ahead-count):]
	s.pending = count + int64(len(tail)) - s.at.ahead
	return nil
}

// asking is a connection or a transaction.
type asking interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
}

// listBlocks lists the next blocks to give out; one that is open stays so.
func (s *outSeries) listBlocks(ctx context.Context, in asking) error {
	const query = `SELECT id, first_us, last_us, count, late FROM block WHERE series = ? AND id > ? ORDER BY id LIMIT ?`
	rows, err := in.QueryContext(ctx, query, s.id, s.at.block, lookBlocks)
	if err != nil {
		return err
	}
	defer rows.Close()
	s.blocks = nil
	for rows.Next() {
		var b outBlock
		if err := rows.Scan(&b.id, &b.first, &b.last, &b.count, &b.late); err != nil {
			return err
		}
		s.blocks = append(s.blocks, b)
	}
	s.more = len(s.blocks) == lookBlocks
	return rows.Err()
}

// wentBack are the series in whose tail a clock went back, or that begin again in
// the microsecond in which they stopped.
type wentBack struct {
	series []*outSeries
	shot   snapshot
	within span
}

// consider takes up a series if it has to be counted; else adjacency tells enough.
func (w *wentBack) consider(s *outSeries) {
	s.inTail = nil
	newest, before := s.at.reach, s.last
	if len(s.blocks) > 0 {
		newest = max(newest, s.far)
	}
	if len(s.blocks) > 0 || s.more {
		before = math.MinInt64
	}
	for i := range s.tail {
		at := s.tail[i].at
		if at <= newest && at != before {
			w.series = append(w.series, s)
			return
		}
		newest, before = max(newest, at), at
	}
}

// shoot reads the tail of the series that have to be counted, within the same
// transaction.
func (w *wentBack) shoot(ctx context.Context, tx *sql.Tx) error {
	if len(w.series) == 0 {
		return nil
	}
	w.within = span{from: math.MaxInt64, until: math.MinInt64}
	found := make([]series, 0, len(w.series))
	for _, s := range w.series {
		found = append(found, s.series)
		for i := range s.tail {
			w.within = span{min(w.within.from, s.tail[i].at), max(w.within.until, s.tail[i].at+1)}
		}
	}
	newest, err := tx.PrepareContext(ctx, newestBlock)
	if err != nil {
		return err
	}
	tail, err := tx.PrepareContext(ctx, selectTail)
	if err != nil {
		return err
	}
	w.shot, err = readSnapshot(ctx, newest, tail, found, w.within)
	return err
}

// count counts for each series the readings of each time that arrived before those
// that are still to be given out of the tail.
func (w *wentBack) count(ctx context.Context, b *Book) error {
	for _, s := range w.series {
		wanted := make(map[int64]int64, len(s.tail))
		for i := range s.tail {
			wanted[s.tail[i].at]--
		}
		reader := newSeriesReader(b, s.series, w.within, w.shot, &blockReader{})
		if err := countInto(ctx, wanted, reader); err != nil {
			return err
		}
		s.inTail = wanted
	}
	return nil
}

// countInto adds the readings of a series to the times that are asked for.
func countInto(ctx context.Context, counts map[int64]int64, reader *seriesReader) error {
	for {
		head, err := reader.head(ctx)
		if err != nil || head == nil {
			return err
		}
		if _, ok := counts[head.at]; ok {
			counts[head.at]++
		}
		reader.take()
	}
}
