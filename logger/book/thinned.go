package book

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"
)

// The data of a row of the table thinned is one zstd frame (RFC 8878) of the
// envelopes of a block that was thinned, and the CRC-32C of the frame. An envelope is
// a summary as overview.go has it, its id 0, of the readings in one interval of the
// clock (the interval's length divides the time since 1970 UTC).

// packThinned makes envelopes of figures in time order.
func packThinned(figures []figure, step int64) []byte {
	var raw []byte
	for len(figures) > 0 {
		at := figures[0].at
		end := at - (at%step+step)%step + step
		n := span{}.firstNotBefore(figures, end)
		raw = appendSummary(raw, &blockSummary{summary: summarize(figures[:n])})
		figures = figures[n:]
	}
	return appendSum(tailEncoder().EncodeAll(raw, nil))
}

// readThinned gives the envelopes of a thinned block.
func readThinned(data []byte, take func(blockSummary) error) error {
	body, err := cutSum(data)
	if err == nil {
		body, err = tailDecoder().DecodeAll(body, nil)
	}
	if err != nil {
		return damage{fmt.Errorf("envelopes of a thinned block: %w", err)}
	}
	return readSummaries(body, take)
}

// thinned gives the envelopes of what was thinned of a series within a span; the
// readings of one count where the first of them is.
func (q *envelopeQuery) thinned(ctx context.Context, take func(blockSummary) error) error {
	const query = `SELECT data FROM thinned WHERE series = ? AND first_us < ? AND last_us >= ?`
	rows, err := q.book.query(ctx, query, q.series.id, q.grid.until, q.grid.from)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var data sql.RawBytes
		if err := rows.Scan(&data); err != nil {
			return err
		}
		err := readThinned(data, func(s blockSummary) error {
			if s.last < q.grid.from || s.first >= q.grid.until {
				return nil
			}
			return take(s)
		})
		if err != nil {
			return err
		}
	}
	return rows.Err()
}

// thinnedSpans lists the spans of a series' thinned blocks.
func (b *Book) thinnedSpans(ctx context.Context, series int64) ([]span, error) {
	const query = `SELECT first_us, last_us + 1 FROM thinned WHERE series = ? ORDER BY first_us`
	return collect(ctx, b, "list what was thinned", query, []any{series}, func(rows *sql.Rows) (s span, err error) {
		err = rows.Scan(&s.from, &s.until)
		return s, err
	})
}

// Thinnings lists what was thinned, by soak.
func (b *Book) Thinnings(ctx context.Context) ([]Thinning, error) {
	const query = `SELECT soak, at_us, older_us, kept_us, step_us, readings FROM thinning ORDER BY soak`
	return collect(ctx, b, "list what was thinned", query, nil, func(rows *sql.Rows) (Thinning, error) {
		var t Thinning
		var at, older, kept, step int64
		err := rows.Scan(&t.Soak, &at, &older, &kept, &step, &t.Readings)
		t.At = fromMicro(at)
		t.OlderThan, t.KeepAround, t.Step = time.Duration(older)*time.Microsecond, time.Duration(kept)*time.Microsecond, time.Duration(step)*time.Microsecond
		return t, err
	})
}

// Whole tells whether every reading of a soak is still there; if not the error is
// ErrThinned and says since when, for whoever would judge it anew.
func (b *Book) Whole(ctx context.Context, id SoakID) error {
	var at, readings int64
	doing := fmt.Sprintf("read all readings of soak %d", id)
	err := b.queryOne(ctx, `SELECT at_us, readings FROM thinning WHERE soak = ? AND readings > 0`, []any{int64(id)}, []any{&at, &readings})
	if errors.Is(err, sql.ErrNoRows) {
		return nil
	}
	if err != nil {
		return b.fail(doing, err)
	}
	return b.refuse(doing, ErrThinned, "%d readings became envelopes on %s; its verdict stays as it was given",
		readings, fromMicro(at).Format(time.DateOnly))
}

// thinnings looks at what was thinned.
func (c *checker) thinnings(ctx context.Context) error {
	type row struct {
		series, id, count int64
		data              []byte
	}
	found, err := collect(ctx, c.book, "check", `SELECT series, id, count, data FROM thinned ORDER BY id`, nil, func(rows *sql.Rows) (r row, err error) {
		err = rows.Scan(&r.series, &r.id, &r.count, &r.data)
		return r, err
	})
	for _, r := range found {
		place := fmt.Sprintf("thinned block %d of series %d", r.id, r.series)
		var n int64
		if err := readThinned(r.data, func(s blockSummary) error { n += s.count; return nil }); err != nil {
			c.add(false, place, "%v; the envelopes of its %d readings are lost", err, r.count)
		} else if n != r.count {
			c.add(false, place, "its envelopes are of %d readings, its row says %d", n, r.count)
		}
	}
	return err
}
