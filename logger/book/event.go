package book

import (
	"context"
	"database/sql"
	"math"
	"time"

	"soakline/device"
)

// Event is something that happened to an instrument of a bench.
type Event struct {
	Bench string
	device.Event
}

func writeEvent(ctx context.Context, tx *sql.Tx, e Event) error {
	const insert = `INSERT INTO event (at_us, bench, instrument, kind, text) VALUES (?, ?, ?, ?, ?)`
	_, err := tx.ExecContext(ctx, insert, e.At.UnixMicro(), e.Bench, e.Instrument, string(e.Kind), e.Text)
	return err
}

// PutEvent writes an event at once; a zero time is now.
func (b *Book) PutEvent(ctx context.Context, e Event) error {
	if e.At.IsZero() {
		e.At = b.now()
	}
	return b.write(ctx, "event of "+e.Instrument, func(tx *sql.Tx) error { return writeEvent(ctx, tx, e) })
}

// Events lists the events of a bench (of all, if empty) from since on and before
// until, in time order; a zero time is no bound.
func (b *Book) Events(ctx context.Context, bench string, since, until time.Time) ([]Event, error) {
	const query = `SELECT at_us, bench, instrument, kind, text FROM event
		WHERE at_us >= ?2 AND at_us < ?3 AND (?1 = '' OR bench = ?1) ORDER BY at_us, id`
	span := spanOf(since, until)
	return collect(ctx, b, "list events", query, []any{bench, span.from, span.until}, func(rows *sql.Rows) (Event, error) {
		var e Event
		var at int64
		err := rows.Scan(&at, &e.Bench, &e.Instrument, &e.Kind, &e.Text)
		e.At = fromMicro(at)
		return e, err
	})
}

// span is an interval in microseconds, half open.
type span struct{ from, until int64 }

// spanOf has the microseconds from since on and before until.
func spanOf(since, until time.Time) span {
	const up = time.Microsecond - 1 // a bound within a microsecond is past its begin
	s := span{from: math.MinInt64, until: math.MaxInt64}
	if !since.IsZero() {
		s.from = since.Add(up).UnixMicro()
	}
	if !until.IsZero() {
		s.until = until.Add(up).UnixMicro()
	}
	return s
}
