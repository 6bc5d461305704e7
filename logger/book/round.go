package book

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math"
	"time"

	"soakline/checks"
	"soakline/device"
)

// RoundID numbers rounds within a book, from 1.
type RoundID int64

// Round is one set of readings at a unit's test points, under a label.
type Round struct {
	ID    RoundID
	Bench string
	Unit  checks.UnitID
	// Console is the unit's; it is not needed to begin a round.
	Console checks.ConsoleName
	// Label is unique among the unit's rounds.
	Label string
	Sheet SheetCopy
	// End is zero while the round is under way or if it was given up.
	Begin, End time.Time
	// Trial, if not 0, is the trial that the round is part of, and Candidate the
	// part value that was fitted; NaN otherwise.
	Trial     TrialID
	Candidate float64
	// Readings are in the order of test point and measure. They are written one by
	// one with AddRoundReadings.
	Readings []RoundReading
}

// RoundReading is what a round found at one check.
type RoundReading struct {
	TestPoint  checks.TestPointName
	Instrument string
	device.Reading
	// Averaged is how many readings it is the mean of, at least 1.
	Averaged int
}

// BeginRound writes a round without readings and returns its number. A zero Begin
// is now. A label that the unit has already is ErrExists.
func (b *Book) BeginRound(ctx context.Context, r Round) (RoundID, error) {
	const insert = `INSERT INTO round (bench, unit, label, sheet, begin_us, trial, candidate) VALUES (?, ?, ?, ?, ?, ?, ?)`
	doing := fmt.Sprintf("begin round %q of %s", r.Label, r.Unit)
	if r.Label == "" {
		return 0, b.refuse(doing, ErrInvalid, "a round needs a label")
	}
	if r.Begin.IsZero() {
		r.Begin = b.now()
	}
	trial := sql.NullInt64{Int64: int64(r.Trial), Valid: r.Trial != 0}
	candidate := sql.NullFloat64{Float64: r.Candidate, Valid: r.Trial != 0 && !math.IsNaN(r.Candidate)}
	var id int64
	err := b.write(ctx, doing, func(tx *sql.Tx) error {
		hash, err := b.addSheet(ctx, tx, doing, r.Sheet)
		if err != nil {
			return err
		}
		result, err := tx.ExecContext(ctx, insert, r.Bench, string(r.Unit), r.Label, hash, r.Begin.UnixMicro(), trial, candidate)
		switch {
		case isUnique(err):
			return b.refuse(doing, ErrExists, "unit %s has a round of that label", r.Unit)
		case isForeign(err):
			return b.refuse(doing, ErrNotFound, "unit %s or trial %d", r.Unit, r.Trial)
		case err != nil:
			return err
		}
		id, err = result.LastInsertId()
		return err
	})
	return RoundID(id), err
}

// AddRoundReadings writes what a round has found so far. A later reading of the
// same test point and measure takes the place of the earlier one.
func (b *Book) AddRoundReadings(ctx context.Context, id RoundID, readings ...RoundReading) error {
	const insert = `INSERT OR REPLACE INTO round_reading
		(round, test_point, measure, instrument, at_us, averaged, coefficient, exponent, digits, bits, u)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`
	doing := fmt.Sprintf("readings of round %d", id)
	return b.write(ctx, doing, func(tx *sql.Tx) error {
		for _, r := range readings {
			stored, err := toNumber(r.Reading)
			if err != nil {
				return b.refuse(doing, ErrInvalid, "%s %s: %v", r.TestPoint, r.Measure, err)
			}
			args := append([]any{int64(id), string(r.TestPoint), string(r.Measure), r.Instrument, r.At.UnixMicro(), max(r.Averaged, 1)}, stored.values()...)
			_, err = tx.ExecContext(ctx, insert, args...)
			if isForeign(err) {
				return b.refuse(doing, ErrNotFound, "round %d", id)
			}
			if err != nil {
				return err
			}
		}
		return nil
	})
}

// EndRound closes a round; a zero time is now.
func (b *Book) EndRound(ctx context.Context, id RoundID, at time.Time) error {
	const update = `UPDATE round SET end_us = max(?, begin_us) WHERE id = ?`
	doing := fmt.Sprintf("end round %d", id)
	if at.IsZero() {
		at = b.now()
	}
	return b.write(ctx, doing, func(tx *sql.Tx) error {
		result, err := tx.ExecContext(ctx, update, at.UnixMicro(), int64(id))
		if err != nil {
			return err
		}
		if n, err := result.RowsAffected(); err != nil || n == 0 {
			return errors.Join(err, b.refuse(doing, ErrNotFound, "round %d", id))
		}
		return nil
	})
}

const selectRound = `SELECT round.id, bench, unit, console, label, sheet.name, sheet.text, sheet.hash,
	begin_us, end_us, trial, candidate
	FROM round JOIN sheet ON sheet.hash = round.sheet JOIN unit ON unit.asset = round.unit`

// Round returns a unit's round of a label, with its readings; ErrNotFound if there
// is none.
func (b *Book) Round(ctx context.Context, unit checks.UnitID, label string) (Round, error) {
	doing := fmt.Sprintf("show round %q of %s", label, unit)
	rounds, err := b.rounds(ctx, doing, selectRound+` WHERE unit = ? AND label = ?`, string(unit), label)
	if err == nil && len(rounds) == 0 {
		err = b.refuse(doing, ErrNotFound, "round %q of unit %s", label, unit)
	}
	if err != nil {
		return Round{}, err
	}
	return rounds[0], nil
}

// Rounds lists a unit's rounds with their readings, oldest first.
func (b *Book) Rounds(ctx context.Context, unit checks.UnitID) ([]Round, error) {
	return b.rounds(ctx, "list rounds", selectRound+` WHERE unit = ? ORDER BY begin_us, round.id`, string(unit))
}

func (b *Book) rounds(ctx context.Context, doing, query string, args ...any) ([]Round, error) {
	rounds, err := collect(ctx, b, doing, query, args, scanRound)
	for i := range rounds {
		if err == nil {
			rounds[i].Readings, err = b.roundReadings(ctx, rounds[i].ID)
		}
	}
	return rounds, err
}

func scanRound(rows *sql.Rows) (Round, error) {
	var r Round
	var begin int64
	var end, trial sql.NullInt64
	var candidate sql.NullFloat64
	err := rows.Scan(&r.ID, &r.Bench, &r.Unit, &r.Console, &r.Label, &r.Sheet.Name, &r.Sheet.Text, &r.Sheet.Hash,
		&begin, &end, &trial, &candidate)
	r.Begin, r.End = fromMicro(begin), fromNull(end)
	r.Trial, r.Candidate = TrialID(trial.Int64), orNaN(candidate)
	return r, err
}

func (b *Book) roundReadings(ctx context.Context, id RoundID) ([]RoundReading, error) {
	const query = `SELECT test_point, measure, instrument, at_us, averaged, coefficient, exponent, digits, bits, u
		FROM round_reading WHERE round = ? ORDER BY test_point, measure`
	return collect(ctx, b, "read a round's readings", query, []any{int64(id)}, func(rows *sql.Rows) (RoundReading, error) {
		var r RoundReading
		var at int64
		var stored number
		targets := append([]any{&r.TestPoint, &r.Measure, &r.Instrument, &at, &r.Averaged}, stored.targets()...)
		if err := rows.Scan(targets...); err != nil {
			return r, err
		}
		r.At = fromMicro(at)
		return r, stored.into(&r.Reading)
	})
}
