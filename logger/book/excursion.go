package book

import (
	"context"
	"database/sql"
	"fmt"
	"math"
	"time"

	"soakline/checks"
)

// SoakExcursion is an excursion with the soak that it belongs to.
type SoakExcursion struct {
	Soak SoakID
	checks.Excursion
}

// writeExcursion writes an excursion or brings the one of the same soak, check,
// state and begin up to date, and chains it.
func writeExcursion(ctx context.Context, tx *sql.Tx, at time.Time, id SoakID, e checks.Excursion) error {
	const insert = `INSERT OR REPLACE INTO excursion
		(soak, test_point, measure, from_us, to_us, state, edge, worst, worst_at_us, worst_u, edge_value)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`
	_, err := tx.ExecContext(ctx, insert, int64(id), string(e.Check.TestPoint), string(e.Check.Measure), e.From.UnixMicro(),
		orNull(e.To), string(e.State), string(e.Edge), e.Worst, e.WorstAt.UnixMicro(), e.WorstU, e.Limit)
	if err != nil {
		return err
	}
	record := recordKey(int64(id), string(e.Check.TestPoint), string(e.Check.Measure), e.From.UnixMicro(), string(e.State))
	return chain(ctx, tx, at, "excursion", record, "")
}

// PutExcursion writes an excursion of a soak at once, or brings it up to date:
// soak, check, State and From tell which one it is. While it lasts its To is zero.
func (b *Book) PutExcursion(ctx context.Context, id SoakID, e checks.Excursion) error {
	doing := fmt.Sprintf("excursion of soak %d", id)
	return b.write(ctx, doing, func(tx *sql.Tx) error {
		return b.soakMissing(doing, id, writeExcursion(ctx, tx, b.now(), id, e))
	})
}

func (b *Book) soakMissing(doing string, id SoakID, err error) error {
	if isForeign(err) {
		return b.refuse(doing, ErrNotFound, "soak %d", id)
	}
	return err
}

const selectExcursion = `SELECT soak, test_point, measure, from_us, to_us, state, edge, worst, worst_at_us, worst_u, edge_value
	FROM excursion`

// Excursions lists the excursions of a soak in time order.
func (b *Book) Excursions(ctx context.Context, id SoakID) ([]checks.Excursion, error) {
	const query = selectExcursion + ` WHERE soak = ? ORDER BY from_us, test_point, measure`
	return collect(ctx, b, "list excursions", query, []any{int64(id)}, func(rows *sql.Rows) (checks.Excursion, error) {
		e, err := scanExcursion(rows)
		return e.Excursion, err
	})
}

func scanExcursion(rows *sql.Rows) (SoakExcursion, error) {
	var e SoakExcursion
	var from, worstAt int64
	var to sql.NullInt64
	var worst, u, limit sql.NullFloat64
	err := rows.Scan(&e.Soak, &e.Check.TestPoint, &e.Check.Measure, &from, &to, &e.State, &e.Edge, &worst, &worstAt, &u, &limit)
	e.From, e.To, e.WorstAt = fromMicro(from), fromNull(to), fromMicro(worstAt)
	e.Worst, e.WorstU, e.Limit = orNaN(worst), orNaN(u), orNaN(limit)
	return e, err
}

// orNaN reads a float column: SQLite keeps not-a-number as NULL.
func orNaN(f sql.NullFloat64) float64 {
	if !f.Valid {
		return math.NaN()
	}
	return f.Float64
}
