package book

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"

	"soakline/checks"
)

// SoakID numbers soaks within a book, from 1.
type SoakID int64

// SoakState is where a soak is in its life.
type SoakState string

// The states of a soak. A soak that was running when the program died is still
// running in the book.
const (
	SoakRunning SoakState = "running"
	SoakEnded   SoakState = "ended"   // it ran for its planned time
	SoakStopped SoakState = "stopped" // somebody stopped it before
)

// Soak is what the book keeps of a soak, enough to judge it again from the book
// alone.
type Soak struct {
	ID    SoakID
	Bench string
	Place string
	Unit  checks.UnitID
	// Console is the unit's; it is not needed to begin a soak.
	Console checks.ConsoleName
	Sheet   SheetCopy
	Planned time.Duration
	// A soak's readings are those from Begin to End, both included; End is zero
	// while it runs.
	Begin, End time.Time
	State      SoakState
	// Reason says why it was stopped.
	Reason string
	// Instruments are those that took its readings, in the order of their names
	// and times.
	Instruments []SoakInstrument
}

// SoakInstrument is an instrument's identity as it answered *IDN?.
type SoakInstrument struct {
	Name, Port, Identity string
	Since                time.Time
}

// BeginSoak writes a running soak and returns its number. A zero Begin is now. A
// unit that is not in the book is ErrNotFound; a unit or place that has a running
// soak is ErrExists.
func (b *Book) BeginSoak(ctx context.Context, s Soak) (SoakID, error) {
	const insert = `INSERT INTO soak (bench, place, unit, sheet, planned_us, begin_us, state, reason)
		VALUES (?, ?, ?, ?, ?, ?, 'running', '')`
	doing := "begin soak of " + string(s.Unit)
	if s.Planned <= 0 {
		return 0, b.refuse(doing, ErrInvalid, "planned duration %v", s.Planned)
	}
	if s.Begin.IsZero() {
		s.Begin = b.now()
	}
	var id int64
	err := b.write(ctx, doing, func(tx *sql.Tx) error {
		hash, err := b.addSheet(ctx, tx, doing, s.Sheet)
		if err != nil {
			return err
		}
		result, err := tx.ExecContext(ctx, insert, s.Bench, s.Place, string(s.Unit), hash, s.Planned.Microseconds(), s.Begin.UnixMicro())
		if err != nil {
			return b.soakConflict(doing, s, err)
		}
		if id, err = result.LastInsertId(); err != nil {
			return err
		}
		return addSoakInstruments(ctx, tx, SoakID(id), s.Begin, s.Instruments)
	})
	return SoakID(id), err
}

// soakConflict turns the database's complaint into ours.
func (b *Book) soakConflict(doing string, s Soak, err error) error {
	switch {
	case isUnique(err):
		return b.refuse(doing, ErrExists, "unit %s or place %s has a running soak", s.Unit, s.Place)
	case isForeign(err):
		return b.refuse(doing, ErrNotFound, "unit %s", s.Unit)
	}
	return err
}

// AddSoakInstrument notes the identity of an instrument that answered, or another
// one that took its place, after the soak had begun.
func (b *Book) AddSoakInstrument(ctx context.Context, id SoakID, instrument SoakInstrument) error {
	doing := fmt.Sprintf("note instrument %s at soak %d", instrument.Name, id)
	return b.write(ctx, doing, func(tx *sql.Tx) error {
		err := addSoakInstruments(ctx, tx, id, b.now(), []SoakInstrument{instrument})
		if isForeign(err) {
			return b.refuse(doing, ErrNotFound, "soak %d", id)
		}
		return err
	})
}

func addSoakInstruments(ctx context.Context, tx *sql.Tx, id SoakID, since time.Time, instruments []SoakInstrument) error {
	const insert = `INSERT OR REPLACE INTO soak_instrument (soak, name, port, identity, since_us) VALUES (?, ?, ?, ?, ?)`
	for _, i := range instruments {
		if i.Since.IsZero() {
			i.Since = since
		}
		if _, err := tx.ExecContext(ctx, insert, int64(id), i.Name, i.Port, i.Identity, i.Since.UnixMicro()); err != nil {
			return err
		}
	}
	return nil
}

// EndSoak closes a running soak as SoakEnded or SoakStopped; a zero time is now.
func (b *Book) EndSoak(ctx context.Context, id SoakID, state SoakState, at time.Time, reason string) error {
	const update = `UPDATE soak SET state = ?, end_us = max(?, begin_us), reason = ? WHERE id = ? AND state = 'running'`
	doing := fmt.Sprintf("end soak %d", id)
	if state != SoakEnded && state != SoakStopped {
		return b.refuse(doing, ErrInvalid, "state %q", state)
	}
	if at.IsZero() {
		at = b.now()
	}
	return b.write(ctx, doing, func(tx *sql.Tx) error {
		result, err := tx.ExecContext(ctx, update, string(state), at.UnixMicro(), reason, int64(id))
		if err != nil {
			return err
		}
		if n, err := result.RowsAffected(); err != nil || n == 0 {
			return errors.Join(err, b.refuse(doing, ErrNotFound, "no running soak %d", id))
		}
		return nil
	})
}

const selectSoak = `SELECT soak.id, bench, place, unit, console, sheet.name, sheet.text, sheet.hash,
	planned_us, begin_us, end_us, state, reason
	FROM soak JOIN sheet ON sheet.hash = soak.sheet JOIN unit ON unit.asset = soak.unit`

// Soak returns one soak; ErrNotFound if there is none of that number.
func (b *Book) Soak(ctx context.Context, id SoakID) (Soak, error) {
	doing := fmt.Sprintf("show soak %d", id)
	soaks, err := b.soaks(ctx, doing, selectSoak+` WHERE soak.id = ?`, int64(id))
	if err == nil && len(soaks) == 0 {
		err = b.refuse(doing, ErrNotFound, "soak %d", id)
	}
	if err != nil {
		return Soak{}, err
	}
	return soaks[0], nil
}

// Soaks lists the soaks of a unit, or of all units if it is empty, oldest first.
func (b *Book) Soaks(ctx context.Context, unit checks.UnitID) ([]Soak, error) {
	return b.soaks(ctx, "list soaks", selectSoak+` WHERE ?1 = '' OR unit = ?1 ORDER BY begin_us, soak.id`, string(unit))
}

// RunningSoaks lists the soaks of a bench that have not been closed, whether or
// not the program that began them still lives.
func (b *Book) RunningSoaks(ctx context.Context, bench string) ([]Soak, error) {
	return b.soaks(ctx, "list running soaks", selectSoak+` WHERE bench = ? AND state = 'running' ORDER BY begin_us, soak.id`, bench)
}

// UnjudgedSoaks lists the soaks of a bench that have ended without a verdict: the
// program ended in between.
func (b *Book) UnjudgedSoaks(ctx context.Context, bench string) ([]Soak, error) {
	return b.soaks(ctx, "list soaks without a verdict", selectSoak+` WHERE bench = ? AND state <> 'running'
		AND NOT EXISTS (SELECT 1 FROM verdict WHERE verdict.soak = soak.id) ORDER BY begin_us, soak.id`, bench)
}

func (b *Book) soaks(ctx context.Context, doing, query string, args ...any) ([]Soak, error) {
	soaks, err := collect(ctx, b, doing, query, args, scanSoak)
	for i := range soaks {
		if err == nil {
			soaks[i].Instruments, err = b.soakInstruments(ctx, soaks[i].ID)
		}
	}
	return soaks, err
}

func scanSoak(rows *sql.Rows) (Soak, error) {
	var s Soak
	var planned, begin int64
	var end sql.NullInt64
	err := rows.Scan(&s.ID, &s.Bench, &s.Place, &s.Unit, &s.Console, &s.Sheet.Name, &s.Sheet.Text, &s.Sheet.Hash,
		&planned, &begin, &end, &s.State, &s.Reason)
	s.Planned = time.Duration(planned) * time.Microsecond
	s.Begin, s.End = fromMicro(begin), fromNull(end)
	return s, err
}

func (b *Book) soakInstruments(ctx context.Context, id SoakID) ([]SoakInstrument, error) {
	const query = `SELECT name, port, identity, since_us FROM soak_instrument WHERE soak = ? ORDER BY name, since_us`
	return collect(ctx, b, "list a soak's instruments", query, []any{int64(id)}, func(rows *sql.Rows) (SoakInstrument, error) {
		var i SoakInstrument
		var since int64
		err := rows.Scan(&i.Name, &i.Port, &i.Identity, &since)
		i.Since = fromMicro(since)
		return i, err
	})
}
