package book

import (
	"context"
	"database/sql"
	"fmt"
	"time"

	"soakline/checks"
)

// FinalVerdict is a verdict on a final test, and when it was given.
type FinalVerdict struct {
	Final FinalID
	At    time.Time
	checks.FinalVerdict
}

// EncodeFinalVerdict writes a verdict as the JSON that the book keeps; see
// EncodeVerdict.
func EncodeFinalVerdict(v checks.FinalVerdict) ([]byte, error) {
	text, err := encodePlain(v)
	if err != nil {
		return nil, fmt.Errorf("verdict as JSON: %w", err)
	}
	return text, nil
}

// PutFinalVerdict writes a verdict on a final test, beside those that are there
// already, and chains it; a zero time is now.
func (b *Book) PutFinalVerdict(ctx context.Context, id FinalID, at time.Time, v checks.FinalVerdict) error {
	const insert = `INSERT INTO final_verdict (final, at_us, outcome, sheet_hash, whole) VALUES (?, ?, ?, ?, ?)`
	doing := fmt.Sprintf("verdict on final test %d", id)
	whole, err := EncodeFinalVerdict(v)
	if err != nil {
		return b.refuse(doing, ErrInvalid, "%v", err)
	}
	if at.IsZero() {
		at = b.now()
	}
	return b.write(ctx, doing, func(tx *sql.Tx) error {
		result, err := tx.ExecContext(ctx, insert, int64(id), at.UnixMicro(), string(v.Outcome), v.SheetHash, whole)
		if isForeign(err) {
			return b.refuse(doing, ErrNotFound, "final test %d", id)
		}
		if err != nil {
			return err
		}
		row, err := result.LastInsertId()
		if err != nil {
			return err
		}
		return chain(ctx, tx, b.now(), finalVerdictKind, recordKey(row), "")
	})
}

const selectFinalVerdict = `SELECT final, at_us, whole FROM final_verdict WHERE final = ?`

// FinalVerdicts lists the verdicts on a final test, the oldest first.
func (b *Book) FinalVerdicts(ctx context.Context, id FinalID) ([]FinalVerdict, error) {
	return collect(ctx, b, "list verdicts", selectFinalVerdict+` ORDER BY id`, []any{int64(id)}, scanOnlyFinalVerdict)
}

// FinalVerdict returns the latest verdict on a final test; ErrNotFound if there is
// none.
func (b *Book) FinalVerdict(ctx context.Context, id FinalID) (FinalVerdict, error) {
	doing := fmt.Sprintf("show verdict on final test %d", id)
	all, err := collect(ctx, b, doing, selectFinalVerdict+` ORDER BY id DESC LIMIT 1`, []any{int64(id)}, scanOnlyFinalVerdict)
	if err == nil && len(all) == 0 {
		err = b.refuse(doing, ErrNotFound, "verdict on final test %d", id)
	}
	if err != nil {
		return FinalVerdict{}, err
	}
	return all[0], nil
}

// FinalVerdictLink returns the link of the latest verdict on a final test.
func (b *Book) FinalVerdictLink(ctx context.Context, id FinalID) (ChainLink, error) {
	return b.link(ctx, "read the chain", fmt.Sprintf("link of a verdict on final test %d", id),
		` WHERE kind = ? AND record = (SELECT '[' || max(id) || ']' FROM final_verdict WHERE final = ?) ORDER BY position DESC LIMIT 1`,
		finalVerdictKind, int64(id))
}

func scanOnlyFinalVerdict(rows *sql.Rows) (FinalVerdict, error) { return scanFinalVerdict(rows) }

// scanFinalVerdict reads a verdict, and what the query asks for besides.
func scanFinalVerdict(rows *sql.Rows, besides ...any) (FinalVerdict, error) {
	var v FinalVerdict
	var at int64
	var whole []byte
	if err := rows.Scan(append([]any{&v.Final, &at, &whole}, besides...)...); err != nil {
		return v, err
	}
	v.At = fromMicro(at)
	if err := decodePlain(whole, &v.FinalVerdict); err != nil {
		return v, damage{fmt.Errorf("verdict from JSON: %w", err)}
	}
	return v, nil
}
