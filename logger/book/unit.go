package book

import (
	"context"
	"database/sql"
	"errors"
	"time"

	"soakline/checks"
)

// Unit is one piece on the shelf, by its asset number.
type Unit struct {
	ID      checks.UnitID
	Console checks.ConsoleName
	Added   time.Time
	// Notes are what was written down about it, oldest first.
	Notes []Note
}

// Note is a remark about a unit.
type Note struct {
	At   time.Time
	Text string
}

// AddUnit books a unit in; its Added and the times of its notes are now where they
// are zero. An asset number that is taken is ErrExists.
func (b *Book) AddUnit(ctx context.Context, u Unit) error {
	const insert = `INSERT INTO unit (asset, console, added_us) VALUES (?, ?, ?)`
	doing := "add unit " + string(u.ID)
	if u.ID == "" || u.Console == "" {
		return b.refuse(doing, ErrInvalid, "a unit needs an asset number and a console")
	}
	if u.Added.IsZero() {
		u.Added = b.now()
	}
	return b.write(ctx, doing, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, insert, string(u.ID), string(u.Console), u.Added.UnixMicro())
		if isUnique(err) {
			return b.refuse(doing, ErrExists, "asset number %s is taken", u.ID)
		}
		for _, note := range u.Notes {
			if err == nil {
				err = b.addNote(ctx, tx, u.ID, note)
			}
		}
		return err
	})
}

// AddNote writes a remark about a unit; a zero time is now.
func (b *Book) AddNote(ctx context.Context, id checks.UnitID, note Note) error {
	doing := "note about unit " + string(id)
	if note.Text == "" {
		return b.refuse(doing, ErrInvalid, "a note needs a text")
	}
	return b.write(ctx, doing, func(tx *sql.Tx) error {
		err := b.addNote(ctx, tx, id, note)
		if isForeign(err) {
			return b.refuse(doing, ErrNotFound, "unit %s", id)
		}
		return err
	})
}

func (b *Book) addNote(ctx context.Context, tx *sql.Tx, id checks.UnitID, note Note) error {
	const insert = `INSERT INTO unit_note (unit, at_us, text) VALUES (?, ?, ?)`
	if note.At.IsZero() {
		note.At = b.now()
	}
	_, err := tx.ExecContext(ctx, insert, string(id), note.At.UnixMicro(), note.Text)
	return err
}

// Unit returns one unit with its notes; ErrNotFound if it is not in the book.
func (b *Book) Unit(ctx context.Context, id checks.UnitID) (Unit, error) {
	const query = `SELECT console, added_us FROM unit WHERE asset = ?`
	doing := "show unit " + string(id)
	u := Unit{ID: id}
	var added int64
	err := b.reading.QueryRowContext(ctx, query, string(id)).Scan(&u.Console, &added)
	if errors.Is(err, sql.ErrNoRows) {
		return Unit{}, b.refuse(doing, ErrNotFound, "unit %s", id)
	}
	if err != nil {
		return Unit{}, b.fail(doing, err)
	}
	u.Added = fromMicro(added)
	u.Notes, err = b.notes(ctx, id)
	return u, err
}

// Units lists all units in the order of their asset numbers, with their notes.
func (b *Book) Units(ctx context.Context) ([]Unit, error) {
	const query = `SELECT asset, console, added_us FROM unit ORDER BY asset`
	units, err := collect(ctx, b, "list units", query, nil, func(rows *sql.Rows) (Unit, error) {
		var u Unit
		var added int64
		err := rows.Scan(&u.ID, &u.Console, &added)
		u.Added = fromMicro(added)
		return u, err
	})
	for i := range units {
		if err == nil {
			units[i].Notes, err = b.notes(ctx, units[i].ID)
		}
	}
	return units, err
}

func (b *Book) notes(ctx context.Context, id checks.UnitID) ([]Note, error) {
	const query = `SELECT at_us, text FROM unit_note WHERE unit = ? ORDER BY at_us, id`
	return collect(ctx, b, "list notes", query, []any{string(id)}, func(rows *sql.Rows) (Note, error) {
		var note Note
		var at int64
		err := rows.Scan(&at, &note.Text)
		note.At = fromMicro(at)
		return note, err
	})
}
