package book

import (
	"context"
	"database/sql"
)

// thinnedRow is a block of which only envelopes are left.
type thinnedRow struct {
	id, first, last, count int64
}

// span is what it spans.
func (r thinnedRow) span() span { return span{r.first, r.last + 1} }

const selectThinned = `SELECT id, first_us, last_us, count FROM thinned WHERE series = ? AND (first_us, id) > (?, ?) ORDER BY first_us, id LIMIT 256`

// eachThinned has something done with each thinned block of a series.
func (b *Book) eachThinned(ctx context.Context, series int64, do func(thinnedRow) error) error {
	after := thinnedRow{first: everything.from, id: -1}
	for {
		page, err := collect(ctx, b, "list what was thinned", selectThinned, []any{series, after.first, after.id}, func(rows *sql.Rows) (r thinnedRow, err error) {
			err = rows.Scan(&r.id, &r.first, &r.last, &r.count)
			return r, err
		})
		if err != nil || len(page) == 0 {
			return err
		}
		for _, after = range page {
			if err := do(after); err != nil {
				return err
			}
		}
	}
}

// thinnedThere tells whether a series has the same thinned block.
func (b *Book) thinnedThere(ctx context.Context, series int64, r thinnedRow) (there bool, err error) {
	err = b.queryOne(ctx, `SELECT EXISTS (SELECT 1 FROM thinned WHERE series = ? AND first_us = ? AND last_us = ? AND count = ?)`,
		[]any{series, r.first, r.last, r.count}, []any{&there})
	return there, err
}

// thinnedHereOnly lists the spans of a series that were thinned here, not there: the
// other book's readings of them are in the envelopes of this one.
func (m *bookImport) thinnedHereOnly(ctx context.Context, theirs, ours int64) (spans []span, err error) {
	err = m.into.eachThinned(ctx, ours, func(r thinnedRow) error {
		there, err := m.from.thinnedThere(ctx, theirs, r)
		if err == nil && !there {
			spans = append(spans, r.span())
		}
		return err
	})
	return spans, err
}

// thinnedBlocks takes the envelopes of a series over, but where this book has the
// readings themselves.
func (m *bookImport) thinnedBlocks(ctx context.Context, s series, one *importedSeries) error {
	return m.from.eachThinned(ctx, s.id, func(r thinnedRow) error {
		if one.here {
			known, err := m.known(ctx, s, one, r)
			if err != nil || known {
				return err
			}
		}
		var data []byte
		if err := m.from.queryOne(ctx, `SELECT data FROM thinned WHERE series = ? AND first_us = ? AND id = ?`, []any{s.id, r.first, r.id}, []any{&data}); err != nil {
			return m.from.fail("read what was thinned", err)
		}
		return m.into.write(ctx, m.doing, func(tx *sql.Tx) error { return m.putThinned(ctx, tx, one.tag, r, data) })
	})
}

// known tells whether this book has the envelopes of a block, or its readings.
func (m *bookImport) known(ctx context.Context, s series, one *importedSeries, r thinnedRow) (bool, error) {
	there, err := m.into.thinnedThere(ctx, one.ownID, r)
	if err != nil || there {
		return there, err
	}
	left, err := m.from.countWithin(ctx, s, r.span())
	if err != nil {
		return false, m.from.fail("read readings", err)
	}
	have, err := m.into.countWithin(ctx, series{one.ownID, one.tag}, r.span())
	return have >= left+r.count, err
}

// countWithin counts the readings that a series has within a span.
func (b *Book) countWithin(ctx context.Context, s series, within span) (n int64, err error) {
	shot, err := b.snapshot(ctx, []series{s}, within)
	if err != nil {
		return 0, err
	}
	n, err = b.countOf(ctx, s, within, shot)
	return n + int64(len(shot.tails[s.id])), err
}

func (m *bookImport) putThinned(ctx context.Context, tx *sql.Tx, tag Tag, r thinnedRow, data []byte) error {
	const free = `SELECT coalesce(max(id) + 1, ?3) FROM thinned WHERE series = ?1 AND first_us = ?2`
	const insert = `INSERT INTO thinned (series, first_us, id, last_us, count, data) VALUES (?, ?, ?, ?, ?, ?)`
	own, err := seriesID(ctx, tx, tag)
	if err != nil {
		return err
	}
	if err := tx.QueryRowContext(ctx, free, own, r.first, r.id).Scan(&r.id); err != nil {
		return err
	}
	_, err = tx.ExecContext(ctx, insert, own, r.first, r.id, r.last, r.count, data)
	return err
}

// thinning notes that a soak was thinned there, if something of it is envelopes here.
func (m *bookImport) thinning(ctx context.Context, tx *sql.Tx, id, own int64) error {
	const some = `SELECT EXISTS (SELECT 1 FROM thinned JOIN series ON series.id = thinned.series JOIN soak ON soak.bench = series.bench AND soak.unit = series.unit
		WHERE soak.id = ? AND thinned.last_us >= soak.begin_us AND thinned.first_us <= soak.end_us)`
	const update = ` ON CONFLICT (soak) DO UPDATE SET readings = max(readings, excluded.readings)`
	return m.eachRow(ctx, `SELECT * FROM thinning WHERE soak = ?`, []any{id}, func(r row) error {
		var envelopes bool
		if err := tx.QueryRowContext(ctx, some, own).Scan(&envelopes); err != nil || !envelopes && r.number("readings") > 0 {
			return err
		}
		r.values[0] = own
		_, err := tx.ExecContext(ctx, insertInto("thinning", r.columns)+update, r.values...)
		return err
	})
}
