package book

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"

	"soakline/checks"
)

// FinalID numbers final tests within a book, from 1.
type FinalID int64

// Final is what the book keeps of a final test, enough to judge it again from the
// book alone.
type Final struct {
	ID    FinalID
	Bench string
	Place string
	Unit  checks.UnitID
	// Console is the unit's; it is not needed to begin a final test.
	Console checks.ConsoleName
	Sheet   SheetCopy
	// Round is the round that its records are kept under; 0 if it has none. RoundLabel
	// is that round's label.
	Round      RoundID
	RoundLabel string
	// End is zero while it is under way.
	Begin, End time.Time
	// GivenUp says why it was given up; empty if it was not.
	GivenUp     string
	Instruments []checks.FinalInstrument
	// Results are in the order in which they were taken.
	Results []checks.StepResult
}

// UnderWay tells whether it has not ended.
func (f Final) UnderWay() bool { return f.End.IsZero() }

// BeginFinal writes a final test without results and returns its number. A zero
// Begin is now. A unit that is not in the book is ErrNotFound; one that has a final
// test under way is ErrExists.
func (b *Book) BeginFinal(ctx context.Context, f Final) (FinalID, error) {
	const insert = `INSERT INTO final_test (bench, place, unit, sheet, round, begin_us, given_up) VALUES (?, ?, ?, ?, ?, ?, '')`
	doing := "begin the final test of " + string(f.Unit)
	if f.Begin.IsZero() {
		f.Begin = b.now()
	}
	round := sql.NullInt64{Int64: int64(f.Round), Valid: f.Round != 0}
	var id int64
	err := b.write(ctx, doing, func(tx *sql.Tx) error {
		hash, err := b.addSheet(ctx, tx, doing, f.Sheet)
		if err != nil {
			return err
		}
		result, err := tx.ExecContext(ctx, insert, f.Bench, f.Place, string(f.Unit), hash, round, f.Begin.UnixMicro())
		switch {
		case isUnique(err):
			return b.refuse(doing, ErrExists, "unit %s has a final test under way", f.Unit)
		case isForeign(err):
			return b.refuse(doing, ErrNotFound, "unit %s or round %d", f.Unit, f.Round)
		case err != nil:
			return err
		}
		if id, err = result.LastInsertId(); err != nil {
			return err
		}
		return addFinalInstruments(ctx, tx, FinalID(id), f.Begin, f.Instruments)
	})
	return FinalID(id), err
}

// dayLayout is how calibration dates are kept.
const dayLayout = time.DateOnly

func dayText(day time.Time) string {
	if day.IsZero() {
		return ""
	}
	return day.UTC().Format(dayLayout)
}

func dayOf(text string) (time.Time, error) {
	if text == "" {
		return time.Time{}, nil
	}
	return time.Parse(dayLayout, text)
}

// AddFinalInstruments notes instruments as they are now at a final test.
func (b *Book) AddFinalInstruments(ctx context.Context, id FinalID, instruments ...checks.FinalInstrument) error {
	doing := fmt.Sprintf("note the instruments of final test %d", id)
	return b.write(ctx, doing, func(tx *sql.Tx) error {
		err := addFinalInstruments(ctx, tx, id, b.now(), instruments)
		if isForeign(err) {
			return b.refuse(doing, ErrNotFound, "final test %d", id)
		}
		return err
	})
}

func addFinalInstruments(ctx context.Context, tx *sql.Tx, id FinalID, since time.Time, instruments []checks.FinalInstrument) error {
	const insert = `INSERT OR REPLACE INTO final_instrument (final, name, port, identity, calibrated, calibration_due, since_us)
		VALUES (?, ?, ?, ?, ?, ?, ?)`
	for _, i := range instruments {
		if i.Since.IsZero() {
			i.Since = since
		}
		if _, err := tx.ExecContext(ctx, insert, int64(id), i.Name, i.Port, i.Identity, dayText(i.Calibrated), dayText(i.CalibrationDue), i.Since.UnixMicro()); err != nil {
			return err
		}
	}
	return nil
}

// AddStepResult writes what was found in a step, after what was found before. A
// final test that has ended is ErrNotFound: its record does not change.
func (b *Book) AddStepResult(ctx context.Context, id FinalID, result checks.StepResult) error {
	const insert = `INSERT INTO final_step (final, n, step, end_us, whole)
		SELECT id, 1 + (SELECT count(*) FROM final_step WHERE final = ?1), ?2, ?3, ?4 FROM final_test WHERE id = ?1 AND end_us IS NULL`
	doing := fmt.Sprintf("step %s of final test %d", result.Step, id)
	result.Begin, result.End = micro(result.Begin), micro(result.End)
	for i := range result.Readings {
		result.Readings[i].At = micro(result.Readings[i].At)
	}
	whole, err := encodePlain(result)
	if err != nil {
		return b.refuse(doing, ErrInvalid, "%v", err)
	}
	return b.write(ctx, doing, func(tx *sql.Tx) error {
		written, err := tx.ExecContext(ctx, insert, int64(id), string(result.Step), result.End.UnixMicro(), whole)
		if err != nil {
			return err
		}
		if n, err := written.RowsAffected(); err != nil || n == 0 {
			return errors.Join(err, b.refuse(doing, ErrNotFound, "no final test %d is under way", id))
		}
		return nil
	})
}

// EndFinal closes a final test that is under way; a zero time is now. GivenUp says
// why it ends without all its steps; empty where it has them.
func (b *Book) EndFinal(ctx context.Context, id FinalID, at time.Time, givenUp string) error {
	const update = `UPDATE final_test SET end_us = max(?, begin_us), given_up = ? WHERE id = ? AND end_us IS NULL`
	doing := fmt.Sprintf("end final test %d", id)
	if at.IsZero() {
		at = b.now()
	}
	return b.write(ctx, doing, func(tx *sql.Tx) error {
		result, err := tx.ExecContext(ctx, update, at.UnixMicro(), givenUp, int64(id))
		if err != nil {
			return err
		}
		if n, err := result.RowsAffected(); err != nil || n == 0 {
			return errors.Join(err, b.refuse(doing, ErrNotFound, "no final test %d is under way", id))
		}
		return nil
	})
}

const selectFinal = `SELECT final_test.id, final_test.bench, place, final_test.unit, console, sheet.name, sheet.text, sheet.hash,
	coalesce(round.id, 0), coalesce(round.label, ''), final_test.begin_us, final_test.end_us, given_up
	FROM final_test JOIN sheet ON sheet.hash = final_test.sheet JOIN unit ON unit.asset = final_test.unit
	LEFT JOIN round ON round.id = final_test.round`

// Final returns one final test; ErrNotFound if there is none of that number.
func (b *Book) Final(ctx context.Context, id FinalID) (Final, error) {
	doing := fmt.Sprintf("show final test %d", id)
	finals, err := b.finals(ctx, doing, selectFinal+` WHERE final_test.id = ?`, int64(id))
	if err == nil && len(finals) == 0 {
		err = b.refuse(doing, ErrNotFound, "final test %d", id)
	}
	if err != nil {
		return Final{}, err
	}
	return finals[0], nil
}

// Finals lists the final tests of a unit, or of all units if it is empty, the
// oldest first.
func (b *Book) Finals(ctx context.Context, unit checks.UnitID) ([]Final, error) {
	return b.finals(ctx, "list final tests", selectFinal+` WHERE ?1 = '' OR final_test.unit = ?1 ORDER BY final_test.begin_us, final_test.id`, string(unit))
}

// OpenFinal returns the final test of a unit that is under way; ErrNotFound if
// there is none.
func (b *Book) OpenFinal(ctx context.Context, unit checks.UnitID) (Final, error) {
	doing := "show the final test of " + string(unit)
	finals, err := b.finals(ctx, doing, selectFinal+` WHERE final_test.unit = ? AND final_test.end_us IS NULL`, string(unit))
	if err == nil && len(finals) == 0 {
		err = b.refuse(doing, ErrNotFound, "unit %s has no final test under way", unit)
	}
	if err != nil {
		return Final{}, err
	}
	return finals[0], nil
}

// UnjudgedFinals lists the final tests of a bench that have ended without a verdict.
func (b *Book) UnjudgedFinals(ctx context.Context, bench string) ([]Final, error) {
	return b.finals(ctx, "list final tests without a verdict", selectFinal+` WHERE final_test.bench = ? AND final_test.end_us IS NOT NULL
		AND NOT EXISTS (SELECT 1 FROM final_verdict WHERE final = final_test.id) ORDER BY final_test.id`, bench)
}

// SoakOfFinal returns which soak of this book a step of a final test names: one that
// came with another bench's book names it by the number that it has there. The error is
// ErrNotFound where that did not come with it.
func (b *Book) SoakOfFinal(ctx context.Context, id FinalID, soak SoakID) (SoakID, error) {
	const query = `SELECT theirs.own FROM other_record AS test LEFT JOIN other_record AS theirs
		ON theirs.book = test.book AND theirs.kind = ?3 AND theirs.number = ?2 WHERE test.kind = ?4 AND test.own = ?1 AND test.native = 1`
	doing := fmt.Sprintf("find soak %d of final test %d", soak, id)
	var own sql.NullInt64
	err := b.queryOne(ctx, query, []any{int64(id), int64(soak), kindSoak, kindFinal}, []any{&own})
	switch {
	case errors.Is(err, sql.ErrNoRows):
		return soak, nil
	case err != nil:
		return 0, b.fail(doing, err)
	case !own.Valid:
		return 0, b.refuse(doing, ErrNotFound, "soak %d of the book that the test came with", soak)
	}
	return SoakID(own.Int64), nil
}

func (b *Book) finals(ctx context.Context, doing, query string, args ...any) ([]Final, error) {
	finals, err := collect(ctx, b, doing, query, args, scanFinal)
	for i := range finals {
		if err == nil {
			finals[i].Instruments, err = b.finalInstruments(ctx, finals[i].ID)
		}
		if err == nil {
			finals[i].Results, err = b.stepResults(ctx, finals[i].ID)
		}
	}
	return finals, err
}

func scanFinal(rows *sql.Rows) (Final, error) {
	var f Final
	var begin int64
	var end sql.NullInt64
	err := rows.Scan(&f.ID, &f.Bench, &f.Place, &f.Unit, &f.Console, &f.Sheet.Name, &f.Sheet.Text, &f.Sheet.Hash,
		&f.Round, &f.RoundLabel, &begin, &end, &f.GivenUp)
	f.Begin, f.End = fromMicro(begin), fromNull(end)
	return f, err
}

func (b *Book) finalInstruments(ctx context.Context, id FinalID) ([]checks.FinalInstrument, error) {
	const query = `SELECT name, port, identity, calibrated, calibration_due, since_us FROM final_instrument WHERE final = ? ORDER BY name, since_us`
	return collect(ctx, b, "read a final test's instruments", query, []any{int64(id)}, func(rows *sql.Rows) (checks.FinalInstrument, error) {
		var i checks.FinalInstrument
		var calibrated, due string
		var since int64
		if err := rows.Scan(&i.Name, &i.Port, &i.Identity, &calibrated, &due, &since); err != nil {
			return i, err
		}
		i.Since = fromMicro(since)
		var broken, brokenDue error
		i.Calibrated, broken = dayOf(calibrated)
		i.CalibrationDue, brokenDue = dayOf(due)
		if err := errors.Join(broken, brokenDue); err != nil {
			return i, damage{err}
		}
		return i, nil
	})
}

func (b *Book) stepResults(ctx context.Context, id FinalID) ([]checks.StepResult, error) {
	const query = `SELECT whole FROM final_step WHERE final = ? ORDER BY n`
	return collect(ctx, b, "read a final test's steps", query, []any{int64(id)}, func(rows *sql.Rows) (checks.StepResult, error) {
		var r checks.StepResult
		var whole []byte
		if err := rows.Scan(&whole); err != nil {
			return r, err
		}
		if err := decodePlain(whole, &r); err != nil {
			return r, damage{fmt.Errorf("step of final test %d from JSON: %w", id, err)}
		}
		return r, nil
	})
}
