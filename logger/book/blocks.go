package book

import (
	"context"
	"database/sql"
	"fmt"

	"soakline/device"
)

// rowsToBlocks fills form 2: it moves the readings of form 1, a row each, into
// blocks, and drops the rows.
func rowsToBlocks(ctx context.Context, tx *sql.Tx) error {
	in, err := newBlockInserter(ctx, tx)
	if err != nil {
		return err
	}
	numbers, err := seriesIDs(ctx, tx)
	if err != nil {
		return err
	}
	j := &journal{writer: newBlockWriter()}
	for _, id := range numbers {
		if err := j.moveRows(ctx, tx, in, newOpenSeries(id)); err != nil {
			return fmt.Errorf("readings of series %d: %w", id, err)
		}
	}
	_, err = tx.ExecContext(ctx, `DROP TABLE reading; DROP TABLE last_batch`)
	return err
}

// moveRows reads the rows of a series in their order, which is that of time.
func (j *journal) moveRows(ctx context.Context, tx *sql.Tx, in *blockInserter, open *openSeries) error {
	const query = `SELECT at_us, coefficient, exponent, digits, bits, u FROM reading WHERE series = ? ORDER BY at_us, n`
	rows, err := tx.QueryContext(ctx, query, open.id)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var at int64
		var stored number
		if err := rows.Scan(append([]any{&at}, stored.targets()...)...); err != nil {
			return err
		}
		r := device.Reading{At: fromMicro(at)}
		if err := stored.into(&r); err != nil {
			return err
		}
		f, err := toFigure(&r)
		if err != nil {
			return err
		}
		open.add(f)
		if len(open.figures) < mostInBlock {
			continue
		}
		if err := j.seal(ctx, in, open, false); err != nil {
			return err
		}
	}
	if err := rows.Err(); err != nil {
		return err
	}
	return j.seal(ctx, in, open, true)
}
