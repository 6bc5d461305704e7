package book

import (
	"context"
	"database/sql"
	"errors"
	"slices"
	"strings"
)

// counted are tables of rows that nothing refers to and that may be equal: of equal
// ones as many are taken over as are missing. The first column is one by which rows
// are found quickly.
var counted = []struct {
	table   string
	columns []string
}{
	{"unit_note", []string{"unit", "at_us", "text"}},
	{"event", []string{"at_us", "bench", "instrument", "kind", "text"}},
	{"loss", []string{"series", "from_us", "to_us", "cause", "count"}},
}

// othersAtOnce is how many rows go in with one commit.
const othersAtOnce = 500

// counted takes the rows of such a table over.
func (m *bookImport) counted(ctx context.Context, table string, columns []string) error {
	all := strings.Join(columns, ", ")
	same := " FROM " + table + " WHERE " + strings.Join(columns, " = ? AND ") + " = ?" // #nosec G202 -- constants
	return m.pages(ctx, table, othersAtOnce, func(ctx context.Context, tx *sql.Tx, id int64) error {
		return m.eachRow(ctx, "SELECT "+all+" FROM "+table+" WHERE id = ?", []any{id}, func(r row) error { // #nosec G202 -- constants
			// It is the so-many-eth of its equals; so many have to be here.
			var nth, here int64
			err := m.from.queryOne(ctx, "SELECT count(*)"+same+" AND id <= ?", append(slices.Clone(r.values), id), []any{&nth})
			if err != nil {
				return m.from.fail("read", err)
			}
			if err := m.translateSeries(ctx, tx, r); err != nil {
				return err
			}
			if err := m.translate(ctx, tx, r, nil); err != nil {
				return err
			}
			if err := tx.QueryRowContext(ctx, "SELECT count(*)"+same, r.values...).Scan(&here); err != nil || here >= nth {
				return err
			}
			m.done.Others++
			_, err = tx.ExecContext(ctx, insertInto(table, columns), r.values...)
			return err
		})
	})
}

// translateSeries gives a row the number that its series has here.
func (m *bookImport) translateSeries(ctx context.Context, tx *sql.Tx, r row) error {
	i := slices.Index(r.columns, "series")
	if i < 0 {
		return nil
	}
	var t Tag
	err := m.from.queryOne(ctx, `SELECT bench, console, unit, test_point, instrument, measure FROM series WHERE id = ?`, []any{r.values[i]},
		[]any{&t.Bench, &t.Console, &t.Unit, &t.TestPoint, &t.Instrument, &t.Measure})
	if err != nil {
		return m.from.fail("read", err)
	}
	r.values[i], err = seriesID(ctx, tx, m.ownTag(t))
	return err
}

// pages has something done with each row of a table up to where the import goes, so
// many in one commit.
func (m *bookImport) pages(ctx context.Context, table string, atOnce int, do func(ctx context.Context, tx *sql.Tx, id int64) error) error {
	after := int64(0)
	for {
		query := "SELECT id FROM " + table + " WHERE id > ? AND id <= ? ORDER BY id LIMIT ?" // #nosec G202 -- constants
		ids, err := collect(ctx, m.from, "read", query, []any{after, m.upTo.id[table], atOnce}, scanInt)
		if err != nil || len(ids) == 0 {
			return err
		}
		err = m.into.write(ctx, m.doing, func(tx *sql.Tx) error {
			within := context.WithoutCancel(ctx) // the transaction obeys ctx as a whole
			for _, id := range ids {
				if err := errors.Join(ctx.Err(), do(within, tx, id)); err != nil {
					return err
				}
				after = id
			}
			return nil
		})
		if err != nil {
			return err
		}
	}
}
