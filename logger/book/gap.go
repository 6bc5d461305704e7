package book

import (
	"context"
	"database/sql"
	"fmt"
	"time"

	"soakline/checks"
)

// Loss is readings of one series that did not get into the book although they
// had been read: how many, when, and why.
type Loss struct {
	Tag
	// From and To are the times of the first and the last reading lost.
	From, To time.Time
	Cause    string
	Count    int
}

func writeGap(ctx context.Context, tx *sql.Tx, id SoakID, g checks.Gap) error {
	const insert = `INSERT OR REPLACE INTO gap (soak, test_point, measure, from_us, to_us, cause) VALUES (?, ?, ?, ?, ?, ?)`
	_, err := tx.ExecContext(ctx, insert, int64(id), string(g.Check.TestPoint), string(g.Check.Measure),
		g.From.UnixMicro(), orNull(g.To), g.Cause)
	return err
}

// PutGap writes a gap of a soak at once, or brings it up to date: soak, check and
// From tell which one it is. While it lasts its To is zero.
func (b *Book) PutGap(ctx context.Context, id SoakID, g checks.Gap) error {
	doing := fmt.Sprintf("gap of soak %d", id)
	return b.write(ctx, doing, func(tx *sql.Tx) error {
		return b.soakMissing(doing, id, writeGap(ctx, tx, id, g))
	})
}

// Gaps lists the gaps of a soak in time order.
func (b *Book) Gaps(ctx context.Context, id SoakID) ([]checks.Gap, error) {
	const query = `SELECT test_point, measure, from_us, to_us, cause FROM gap WHERE soak = ? ORDER BY from_us, test_point, measure`
	return collect(ctx, b, "list gaps", query, []any{int64(id)}, func(rows *sql.Rows) (checks.Gap, error) {
		var g checks.Gap
		var from int64
		var to sql.NullInt64
		err := rows.Scan(&g.Check.TestPoint, &g.Check.Measure, &from, &to, &g.Cause)
		g.From, g.To = fromMicro(from), fromNull(to)
		return g, err
	})
}

func writeLoss(ctx context.Context, tx *sql.Tx, series int64, l Loss) error {
	const insert = `INSERT INTO loss (series, from_us, to_us, cause, count) VALUES (?, ?, ?, ?, ?)`
	_, err := tx.ExecContext(ctx, insert, series, l.From.UnixMicro(), l.To.UnixMicro(), l.Cause, l.Count)
	return err
}

// Losses lists the losses that match a filter and touch its time, in time order.
// A loss that lasted is in several entries, one per commit.
func (b *Book) Losses(ctx context.Context, filter Filter) ([]Loss, error) {
	const query = `SELECT from_us, to_us, cause, count FROM loss WHERE series = ? AND to_us >= ? AND from_us < ? ORDER BY from_us, id`
	found, span, err := b.scope(ctx, filter)
	if err != nil {
		return nil, err
	}
	var all []Loss
	for _, s := range found {
		some, err := collect(ctx, b, "list losses", query, []any{s.id, span.from, span.until}, func(rows *sql.Rows) (Loss, error) {
			l := Loss{Tag: s.tag}
			var from, to int64
			err := rows.Scan(&from, &to, &l.Cause, &l.Count)
			l.From, l.To = fromMicro(from), fromMicro(to)
			return l, err
		})
		if err != nil {
			return nil, err
		}
		all = append(all, some...)
	}
	sortByTime(all)
	return all, nil
}
