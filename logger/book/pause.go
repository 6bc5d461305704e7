package book

import (
	"context"
	"database/sql"
	"fmt"

	"soakline/checks"
)

// PutPause writes that a soak's unit is switched off, or brings
// that up to date: soak and From tell which pause it is. While it lasts its To is
// zero.
func (b *Book) PutPause(ctx context.Context, id SoakID, p checks.Pause) error {
	const insert = `INSERT OR REPLACE INTO pause (soak, from_us, to_us, kind) VALUES (?, ?, ?, ?)`
	doing := fmt.Sprintf("pause of soak %d", id)
	return b.write(ctx, doing, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, insert, int64(id), p.From.UnixMicro(), orNull(p.To), string(p.Kind))
		return b.soakMissing(doing, id, err)
	})
}

// Pauses lists the pauses of a soak in the order of time.
func (b *Book) Pauses(ctx context.Context, id SoakID) ([]checks.Pause, error) {
	const query = `SELECT from_us, to_us, kind FROM pause WHERE soak = ? ORDER BY from_us`
	return collect(ctx, b, "list pauses", query, []any{int64(id)}, func(rows *sql.Rows) (checks.Pause, error) {
		var p checks.Pause
		var from int64
		var to sql.NullInt64
		err := rows.Scan(&from, &to, &p.Kind)
		p.From, p.To = fromMicro(from), fromNull(to)
		return p, err
	})
}
