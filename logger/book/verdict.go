package book

import (
	"context"
	"database/sql"
	"fmt"
	"time"

	"soakline/checks"
)

// SoakVerdict is a verdict on a soak, and when it was given.
type SoakVerdict struct {
	Soak SoakID
	At   time.Time
	checks.Verdict
}

// EncodeVerdict writes a verdict as the JSON that the book keeps. Equal verdicts
// give equal bytes, and DecodeVerdict gives the same verdict back bit for bit:
// what is not measured is null, an infinity "inf" or "-inf".
func EncodeVerdict(v checks.Verdict) ([]byte, error) {
	text, err := encodePlain(v)
	if err != nil {
		return nil, fmt.Errorf("verdict as JSON: %w", err)
	}
	return text, nil
}

// DecodeVerdict reads what EncodeVerdict wrote.
func DecodeVerdict(text []byte) (checks.Verdict, error) {
	var v checks.Verdict
	if err := decodePlain(text, &v); err != nil {
		return checks.Verdict{}, fmt.Errorf("verdict from JSON: %w", err)
	}
	return v, nil
}

// PutVerdict writes a verdict on a soak, beside those that are there already, and
// chains it; a zero time is now.
func (b *Book) PutVerdict(ctx context.Context, id SoakID, at time.Time, v checks.Verdict) error {
	const insert = `INSERT INTO verdict (soak, at_us, outcome, evidence, sheet_hash, whole) VALUES (?, ?, ?, ?, ?, ?)`
	doing := fmt.Sprintf("verdict on soak %d", id)
	whole, err := EncodeVerdict(v)
	if err != nil {
		return b.refuse(doing, ErrInvalid, "%v", err)
	}
	if at.IsZero() {
		at = b.now()
	}
	return b.write(ctx, doing, func(tx *sql.Tx) error {
		result, err := tx.ExecContext(ctx, insert, int64(id), at.UnixMicro(), string(v.Outcome), v.Evidence, v.SheetHash, whole)
		if err != nil {
			return b.soakMissing(doing, id, err)
		}
		row, err := result.LastInsertId()
		if err != nil {
			return err
		}
		return chain(ctx, tx, b.now(), "verdict", recordKey(row), "")
	})
}

const selectVerdict = `SELECT soak, at_us, whole FROM verdict`

// Verdicts lists the verdicts on a soak, the oldest first.
func (b *Book) Verdicts(ctx context.Context, id SoakID) ([]SoakVerdict, error) {
	return collect(ctx, b, "list verdicts", selectVerdict+` WHERE soak = ? ORDER BY id`, []any{int64(id)}, scanVerdict)
}

// Verdict returns the latest verdict on a soak; ErrNotFound if there is none.
func (b *Book) Verdict(ctx context.Context, id SoakID) (SoakVerdict, error) {
	doing := fmt.Sprintf("show verdict on soak %d", id)
	all, err := collect(ctx, b, doing, selectVerdict+` WHERE soak = ? ORDER BY id DESC LIMIT 1`, []any{int64(id)}, scanVerdict)
	if err == nil && len(all) == 0 {
		err = b.refuse(doing, ErrNotFound, "verdict on soak %d", id)
	}
	if err != nil {
		return SoakVerdict{}, err
	}
	return all[0], nil
}

func scanVerdict(rows *sql.Rows) (SoakVerdict, error) {
	var v SoakVerdict
	var at int64
	var whole []byte
	err := rows.Scan(&v.Soak, &at, &whole)
	v.At = fromMicro(at)
	if err == nil {
		var broken error
		if v.Verdict, broken = DecodeVerdict(whole); broken != nil {
			err = damage{broken}
		}
	}
	return v, err
}
