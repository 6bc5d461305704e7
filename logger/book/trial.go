package book

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math"
	"time"

	"soakline/checks"
)

// TrialID numbers trials within a book, from 1.
type TrialID int64

// Trial is one round per candidate value of a part.
type Trial struct {
	ID   TrialID
	Unit checks.UnitID
	// Part says what is varied: "series resistor R14".
	Part string
	// CandidateUnit is the plural unit of the candidates: "ohms", "farads".
	CandidateUnit string
	// End is zero while it is under way.
	Begin, End time.Time
	// Chosen is the candidate that was kept; NaN where none was.
	Chosen float64
}

// BeginTrial writes a trial and returns its number, for the rounds to name. A zero
// Begin is now.
func (b *Book) BeginTrial(ctx context.Context, t Trial) (TrialID, error) {
	const insert = `INSERT INTO trial (unit, part, unit_name, begin_us) VALUES (?, ?, ?, ?)`
	doing := fmt.Sprintf("begin trial of %s at %s", t.Part, t.Unit)
	if t.Begin.IsZero() {
		t.Begin = b.now()
	}
	var id int64
	err := b.write(ctx, doing, func(tx *sql.Tx) error {
		result, err := tx.ExecContext(ctx, insert, string(t.Unit), t.Part, t.CandidateUnit, t.Begin.UnixMicro())
		if isForeign(err) {
			return b.refuse(doing, ErrNotFound, "unit %s", t.Unit)
		}
		if err == nil {
			id, err = result.LastInsertId()
		}
		return err
	})
	return TrialID(id), err
}

// EndTrial closes a trial with the candidate that is kept, NaN for none; a zero
// time is now.
func (b *Book) EndTrial(ctx context.Context, id TrialID, at time.Time, chosen float64) error {
	const update = `UPDATE trial SET end_us = max(?, begin_us), chosen = ? WHERE id = ?`
	doing := fmt.Sprintf("end trial %d", id)
	if at.IsZero() {
		at = b.now()
	}
	kept := sql.NullFloat64{Float64: chosen, Valid: !math.IsNaN(chosen)}
	return b.write(ctx, doing, func(tx *sql.Tx) error {
		result, err := tx.ExecContext(ctx, update, at.UnixMicro(), kept, int64(id))
		if err != nil {
			return err
		}
		if n, err := result.RowsAffected(); err != nil || n == 0 {
			return errors.Join(err, b.refuse(doing, ErrNotFound, "trial %d", id))
		}
		return nil
	})
}

// Trials lists a unit's trials, oldest first.
func (b *Book) Trials(ctx context.Context, unit checks.UnitID) ([]Trial, error) {
	const query = `SELECT id, unit, part, unit_name, begin_us, end_us, chosen FROM trial WHERE unit = ? ORDER BY id`
	return collect(ctx, b, "list trials", query, []any{string(unit)}, func(rows *sql.Rows) (Trial, error) {
		var t Trial
		var begin int64
		var end sql.NullInt64
		var chosen sql.NullFloat64
		err := rows.Scan(&t.ID, &t.Unit, &t.Part, &t.CandidateUnit, &begin, &end, &chosen)
		t.Begin, t.End, t.Chosen = fromMicro(begin), fromNull(end), orNaN(chosen)
		return t, err
	})
}

// TrialRounds lists the rounds of a trial with their readings, oldest first.
func (b *Book) TrialRounds(ctx context.Context, id TrialID) ([]Round, error) {
	return b.rounds(ctx, "list a trial's rounds", selectRound+` WHERE trial = ? ORDER BY begin_us, round.id`, int64(id))
}
