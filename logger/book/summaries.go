package book

import (
	"context"
	"database/sql"
	"errors"
	"math"
)

// The blocks of a series that can have readings in a span are the late ones, which
// are few; those in overviews; and the latest, which are in none.
const (
	lateSummaries = `SELECT id, first_us, last_us, count, low, high, sum FROM block INDEXED BY block_late
		WHERE series = ? AND late = 1 AND first_us < ? AND id <= ?`
	overviewsFrom = `SELECT data FROM overview WHERE series = ?1 AND first_us < ?3 AND first_us >=
		coalesce((SELECT first_us FROM overview WHERE series = ?1 AND first_us <= ?2 ORDER BY first_us DESC LIMIT 1), ?2)`
	laterSummaries = `SELECT id, first_us, last_us, count, low, high, sum FROM block
		WHERE series = ?1 AND late = 0 AND first_us < ?3 AND id <= ?4 AND first_us >=
		coalesce((SELECT first_us FROM block WHERE series = ?1 AND late = 0 AND first_us <= ?2 ORDER BY first_us DESC LIMIT 1), ?2)`
)

// summaries streams the summaries of the blocks that can have readings in the span,
// in no particular order.
func (q *envelopeQuery) summaries(ctx context.Context, take func(blockSummary) error) error {
	from, until := q.grid.from, q.grid.until
	inSpan := func(s blockSummary) error {
		if s.last < from || s.first >= until || s.id > q.upTo {
			return nil
		}
		return take(s)
	}
	if err := q.scan(ctx, lateSummaries, inSpan, q.series.id, until, q.upTo); err != nil {
		return err
	}
	told := int64(math.MinInt64) // where the last block begins that an overview tells of
	rows, err := q.book.query(ctx, overviewsFrom, q.series.id, from, until)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var data sql.RawBytes
		if err := rows.Scan(&data); err != nil {
			return err
		}
		err := readOverview(data, func(s blockSummary) error {
			told = max(told, s.first)
			return inSpan(s)
		})
		if err != nil {
			return err
		}
	}
	if err := errors.Join(rows.Err(), rows.Close()); err != nil {
		return err
	}
	return q.scan(ctx, laterSummaries, func(s blockSummary) error {
		if s.first <= told {
			return nil
		}
		return inSpan(s)
	}, q.series.id, max(from, told), until, q.upTo)
}

// scan gives the summaries that a query finds.
func (q *envelopeQuery) scan(ctx context.Context, query string, take func(blockSummary) error, args ...any) error {
	rows, err := q.book.query(ctx, query, args...)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		one, err := scanSummary(rows)
		if err != nil {
			return err
		}
		if err := take(one); err != nil {
			return err
		}
	}
	return rows.Err()
}
