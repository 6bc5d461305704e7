package book

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"
)

// ShipTarget is a target of shipping as the book knows it.
type ShipTarget struct {
	Name string
	// Refused is how many lines it would not take.
	Refused int64
}

// RefusedLine is a line that a target would not take.
type RefusedLine struct {
	Target string
	At     time.Time
	// Reason is what the target said, Line what it would not take.
	Reason, Line string
}

// keptRefused is how many refused lines of a target are kept; what is older is
// counted only: a refused reading is in the book all the same.
const keptRefused = 10_000

// reached returns how far a target is.
func (b *Book) reached(ctx context.Context, target string) (Reached, error) {
	const query = `SELECT series, block, ahead, newest_us, same, reach_us FROM ship_place WHERE target = ?`
	r := Reached{places: make(map[int64]place)}
	doing := "see how far " + target + " is"
	err := b.reading.QueryRowContext(ctx, `SELECT chain FROM ship_target WHERE name = ?`, target).Scan(&r.chain)
	if err != nil && !errors.Is(err, sql.ErrNoRows) {
		return r, b.fail(doing, err)
	}
	_, err = collect(ctx, b, doing, query, []any{target}, func(rows *sql.Rows) (none struct{}, err error) {
		var id int64
		var p place
		err = rows.Scan(&id, &p.block, &p.ahead, &p.newest, &p.same, &p.reach)
		r.places[id] = p
		return none, err
	})
	return r, err
}

const putTarget = `INSERT INTO ship_target (name, chain, refused) VALUES (?, ?, ?)
	ON CONFLICT (name) DO UPDATE SET chain = max(chain, excluded.chain), refused = refused + excluded.refused`

// keepReached writes how far a target is.
func (b *Book) keepReached(ctx context.Context, target string, r Reached) error {
	const put = `INSERT OR REPLACE INTO ship_place (target, series, block, ahead, newest_us, same, reach_us) VALUES (?, ?, ?, ?, ?, ?, ?)`
	return b.write(ctx, "note how far "+target+" is", func(tx *sql.Tx) error {
		if _, err := tx.ExecContext(ctx, putTarget, target, r.chain, 0); err != nil {
			return err
		}
		statement, err := tx.PrepareContext(ctx, put)
		if err != nil {
			return err
		}
		for id, p := range r.places {
			if _, err := statement.ExecContext(ctx, target, id, p.block, p.ahead, p.newest, p.same, p.reach); err != nil {
				return err
			}
		}
		return nil
	})
}

// PutRefused keeps lines that a target would not take.
func (b *Book) PutRefused(ctx context.Context, target string, lines []RefusedLine) error {
	const put = `INSERT OR IGNORE INTO ship_refused (target, at_us, reason, line) VALUES (?, ?, ?, ?)`
	const trim = `DELETE FROM ship_refused WHERE target = ?1 AND id <=
		(SELECT id FROM ship_refused WHERE target = ?1 ORDER BY id DESC LIMIT 1 OFFSET ?2)`
	return b.write(ctx, "keep lines that "+target+" refused", func(tx *sql.Tx) error {
		if _, err := tx.ExecContext(ctx, putTarget, target, 0, 0); err != nil {
			return err
		}
		var fresh int64
		for _, l := range lines {
			result, err := tx.ExecContext(ctx, put, target, l.At.UnixMicro(), l.Reason, l.Line)
			if err != nil {
				return err
			}
			n, err := result.RowsAffected()
			if err != nil {
				return err
			}
			fresh += n
		}
		if _, err := tx.ExecContext(ctx, putTarget, target, 0, fresh); err != nil {
			return err
		}
		_, err := tx.ExecContext(ctx, trim, target, keptRefused)
		return err
	})
}

// ShipTargets lists the targets that the book has heard of, by name.
func (b *Book) ShipTargets(ctx context.Context) ([]ShipTarget, error) {
	const query = `SELECT name, refused FROM ship_target ORDER BY name`
	return collect(ctx, b, "list targets", query, nil, func(rows *sql.Rows) (ShipTarget, error) {
		var t ShipTarget
		err := rows.Scan(&t.Name, &t.Refused)
		return t, err
	})
}

// Refused lists the lines that a target would not take, the latest first; all
// targets' if it is empty.
func (b *Book) Refused(ctx context.Context, target string, most int) ([]RefusedLine, error) {
	const query = `SELECT target, at_us, reason, line FROM ship_refused WHERE ?1 IN ('', target) ORDER BY id DESC LIMIT ?2`
	return collect(ctx, b, "list refused lines", query, []any{target, most}, func(rows *sql.Rows) (RefusedLine, error) {
		var l RefusedLine
		var at int64
		err := rows.Scan(&l.Target, &at, &l.Reason, &l.Line)
		l.At = fromMicro(at)
		return l, err
	})
}

// ShipAnew forgets how far a target is, so that all of the book goes to it again.
// The error is ErrNotFound for a target that the book has not heard of.
func (b *Book) ShipAnew(ctx context.Context, target string) error {
	doing := fmt.Sprintf("begin anew with %s", target)
	return b.write(ctx, doing, func(tx *sql.Tx) error {
		for _, query := range []string{`DELETE FROM ship_place WHERE target = ?`, `DELETE FROM ship_refused WHERE target = ?`} {
			if _, err := tx.ExecContext(ctx, query, target); err != nil {
				return err
			}
		}
		result, err := tx.ExecContext(ctx, `DELETE FROM ship_target WHERE name = ?`, target)
		if err != nil {
			return err
		}
		if n, err := result.RowsAffected(); err != nil || n == 0 {
			return errors.Join(err, b.refuse(doing, ErrNotFound, "target %q", target))
		}
		return nil
	})
}
