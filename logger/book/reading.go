package book

import (
	"context"
	"database/sql"
	"fmt"

	"soakline/device"
)

// TaggedReading is a reading with where it comes from. Tag.Measure and the
// reading's own Measure are the same.
type TaggedReading struct {
	Tag Tag
	device.Reading
}

// check says why a reading cannot be kept.
func (r TaggedReading) check() error {
	if r.Measure != r.Tag.Measure {
		return fmt.Errorf("%w: measure %q under the tag of %q", ErrInvalid, r.Measure, r.Tag.Measure)
	}
	if r.At.IsZero() {
		return fmt.Errorf("%w: it has no time", ErrInvalid)
	}
	_, err := toNumber(r.Reading)
	return err
}

// seriesTail is what must be known of a series to add to it.
type seriesTail struct {
	id     int64
	lastAt int64 // of the newest reading, in microseconds
	filled bool
}

// readingInserter adds readings within one transaction. It takes over and updates
// the tails that it is given, which hold only if the transaction is committed.
type readingInserter struct {
	tx        *sql.Tx
	insert    *sql.Stmt
	tails     map[Tag]*seriesTail
	backwards int
}

func newReadingInserter(ctx context.Context, tx *sql.Tx, tails map[Tag]*seriesTail) (*readingInserter, error) {
	const insert = `INSERT INTO reading (series, at_us, n, coefficient, exponent, digits, bits, u)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?)`
	statement, err := tx.PrepareContext(ctx, insert)
	if err != nil {
		return nil, err
	}
	return &readingInserter{tx: tx, insert: statement, tails: tails}, nil
}

// add writes one reading. One of a series and microsecond that is there already is
// kept beside it, one that goes back in time is put where it belongs and counted.
func (r *readingInserter) add(ctx context.Context, reading TaggedReading) error {
	stored, err := toNumber(reading.Reading)
	if err != nil {
		return err
	}
	tail, err := r.tail(ctx, reading.Tag)
	if err != nil {
		return err
	}
	at := reading.At.UnixMicro()
	n := 0
	if tail.filled && at <= tail.lastAt {
		if n, err = r.place(ctx, tail.id, at); err != nil {
			return err
		}
		if at < tail.lastAt {
			r.backwards++
		}
	}
	_, err = r.insert.ExecContext(ctx, tail.id, at, n,
		stored.coefficient, stored.exponent, stored.digits, stored.bits, stored.u)
	if err == nil && (!tail.filled || at > tail.lastAt) {
		tail.lastAt, tail.filled = at, true
	}
	return err
}

func (r *readingInserter) tail(ctx context.Context, tag Tag) (*seriesTail, error) {
	const newest = `SELECT max(at_us) FROM reading WHERE series = ?`
	if tail, ok := r.tails[tag]; ok {
		return tail, nil
	}
	id, err := seriesID(ctx, r.tx, tag)
	if err != nil {
		return nil, err
	}
	var last sql.NullInt64
	if err := r.tx.QueryRowContext(ctx, newest, id).Scan(&last); err != nil {
		return nil, err
	}
	tail := &seriesTail{id: id, lastAt: last.Int64, filled: last.Valid}
	r.tails[tag] = tail
	return tail, nil
}

// place returns the next free n at a series' microsecond.
func (r *readingInserter) place(ctx context.Context, series, at int64) (int, error) {
	const next = `SELECT coalesce(max(n) + 1, 0) FROM reading WHERE series = ? AND at_us = ?`
	var n int
	err := r.tx.QueryRowContext(ctx, next, series, at).Scan(&n)
	return n, err
}

// pageSize is how many readings of a series are in memory at once while a query
// runs.
const pageSize = 1024

// seriesReader gives a series' readings in time order, page by page, so that no
// read transaction stays open while the caller thinks.
type seriesReader struct {
	series series
	span   span
	page   []device.Reading
	next   int // in page
	// lastAt and lastN are the key of the last reading fetched.
	lastAt, lastN int64
	done          bool
}

const selectPage = `SELECT at_us, n, coefficient, exponent, digits, bits, u FROM reading
	WHERE series = ? AND (at_us, n) > (?, ?) AND at_us < ? ORDER BY at_us, n LIMIT ?`

func newSeriesReader(s series, within span) *seriesReader {
	return &seriesReader{series: s, span: within, lastAt: within.from, lastN: -1}
}

// head returns the next reading without taking it; nil at the end.
func (r *seriesReader) head(ctx context.Context, statement *sql.Stmt) (*device.Reading, error) {
	if r.next == len(r.page) && !r.done {
		if err := r.fetch(ctx, statement); err != nil {
			return nil, err
		}
	}
	if r.next == len(r.page) {
		return nil, nil
	}
	return &r.page[r.next], nil
}

func (r *seriesReader) fetch(ctx context.Context, statement *sql.Stmt) error {
	rows, err := statement.QueryContext(ctx, r.series.id, r.lastAt, r.lastN, r.span.until, pageSize)
	if err != nil {
		return err
	}
	defer rows.Close()
	r.page, r.next = r.page[:0], 0
	for rows.Next() {
		var stored number
		targets := append([]any{&r.lastAt, &r.lastN}, stored.targets()...)
		if err := rows.Scan(targets...); err != nil {
			return err
		}
		reading := device.Reading{Measure: r.series.tag.Measure, At: fromMicro(r.lastAt)}
		if err := stored.into(&reading); err != nil {
			return fmt.Errorf("%v at %v: %w", r.series.tag, reading.At, err)
		}
		r.page = append(r.page, reading)
	}
	r.done = len(r.page) < pageSize
	return rows.Err()
}
