package book

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"strings"

	"soakline/checks"
)

// listed writes names as a list.
func listed(names []string) string { return strings.Join(names, ", ") }

// knownUnit is a row of the table unit.
type knownUnit struct {
	asset   checks.UnitID
	console checks.ConsoleName
	added   int64
}

// String names a unit so that a person can tell two of one number apart.
func (u knownUnit) String() string {
	return fmt.Sprintf("%s, booked in %s", u.console, fromMicro(u.added).Format("2006-01-02 15:04:05Z"))
}

// unitsAfter pages through the units of a book.
func (b *Book) unitsAfter(ctx context.Context, after checks.UnitID) ([]knownUnit, error) {
	const query = `SELECT asset, console, added_us FROM unit WHERE asset > ? ORDER BY asset LIMIT 256`
	return collect(ctx, b, "list units", query, []any{string(after)}, func(rows *sql.Rows) (u knownUnit, err error) {
		err = rows.Scan(&u.asset, &u.console, &u.added)
		return u, err
	})
}

// unitRow returns a unit; ok is false if there is none of that number.
func (b *Book) unitRow(ctx context.Context, asset checks.UnitID) (u knownUnit, ok bool, err error) {
	u.asset = asset
	err = b.queryOne(ctx, `SELECT console, added_us FROM unit WHERE asset = ?`, []any{string(asset)}, []any{&u.console, &u.added})
	if errors.Is(err, sql.ErrNoRows) {
		return u, false, nil
	}
	return u, err == nil, err
}

// eachUnit has something done with each unit of the other book.
func (m *bookImport) eachUnit(ctx context.Context, do func(knownUnit) error) error {
	var after checks.UnitID
	for {
		page, err := m.from.unitsAfter(ctx, after)
		if err != nil || len(page) == 0 {
			return err
		}
		for _, u := range page {
			if err := do(u); err != nil {
				return err
			}
			after = u.asset
		}
	}
}

// decideUnits finds out under which number each unit of the other book goes here,
// and names all numbers that two units have, before anything is written.
func (m *bookImport) decideUnits(ctx context.Context) error {
	m.units = make(map[checks.UnitID]checks.UnitID)
	taken := make(map[checks.UnitID]checks.UnitID)
	var clashes []string
	renamed := make(map[checks.UnitID]bool)
	err := m.eachUnit(ctx, func(u knownUnit) error {
		renamed[u.asset] = true
		own, clash, err := m.decide(ctx, u)
		if other, twice := taken[own]; err == nil && clash == "" && twice {
			clash = fmt.Sprintf("%s and %s would both be %s", other, u.asset, own)
		}
		if clash != "" {
			clashes = append(clashes, clash)
			return err
		}
		taken[own], m.units[u.asset] = u.asset, own
		return err
	})
	if err != nil {
		return err
	}
	for old := range m.how.Rename {
		if !renamed[old] {
			clashes = append(clashes, fmt.Sprintf("there is no unit %s in it to go by another number", old))
		}
	}
	if len(clashes) == 0 {
		return nil
	}
	slices.Sort(clashes)
	const most = 8
	if more := len(clashes) - most; more > 0 {
		clashes = append(clashes[:most], fmt.Sprintf("and %d more", more))
	}
	return &Error{Path: m.into.path, Doing: m.doing, Kind: ErrExists, Detail: strings.Join(clashes, "; "),
		Hint: "nothing was imported; --same-units takes each number for one unit that went from bench to bench, --rename OLD=NEW gives one of the other book another number"}
}

// decide returns under which number a unit goes here, or why that is not clear.
func (m *bookImport) decide(ctx context.Context, u knownUnit) (own checks.UnitID, clash string, err error) {
	wanted, renaming := m.how.Rename[u.asset]
	before, err := m.unitBefore(ctx, u.asset)
	if err != nil {
		return "", "", err
	}
	if before != "" {
		if renaming && wanted != before {
			return "", fmt.Sprintf("unit %s of it goes by %s here since it was imported first", u.asset, before), nil
		}
		return before, "", nil
	}
	if !renaming {
		wanted = u.asset
	}
	here, there, err := m.into.unitRow(ctx, wanted)
	switch {
	case err != nil:
		return "", "", err
	case !there || here.console == u.console && (here.added == u.added || m.how.SameUnits && !renaming):
		return wanted, "", nil
	case renaming:
		return "", fmt.Sprintf("unit %s cannot become %s: that is another unit here (%v)", u.asset, wanted, here), nil
	}
	return "", fmt.Sprintf("unit %s here (%v) and there (%v)", u.asset, here, u), nil
}

// unitBefore returns under which number a unit came here before, with this book or
// with one that this book had it from; empty if it did not.
func (m *bookImport) unitBefore(ctx context.Context, asset checks.UnitID) (own checks.UnitID, err error) {
	const from = `SELECT identity, asset FROM other_unit JOIN other_book ON id = book WHERE own = ?`
	const find = `SELECT own FROM other_unit JOIN other_book ON id = book WHERE identity = ? AND asset = ?`
	type origin struct {
		identity string
		asset    checks.UnitID
	}
	origins, err := collect(ctx, m.from, "list units", from, []any{string(asset)}, func(rows *sql.Rows) (o origin, err error) {
		err = rows.Scan(&o.identity, &o.asset)
		return o, err
	})
	if err != nil {
		return "", err
	}
	for _, o := range append([]origin{{m.done.Identity, asset}}, origins...) {
		err := m.into.queryOne(ctx, find, []any{o.identity, string(o.asset)}, []any{&own})
		if !errors.Is(err, sql.ErrNoRows) {
			return own, err
		}
	}
	return "", nil
}

// own returns the number that a unit of the other book has here.
func (m *bookImport) own(asset checks.UnitID) checks.UnitID {
	if own, ok := m.units[asset]; ok {
		return own
	}
	return asset
}

// keepUnits writes the other book and its units into this one.
func (m *bookImport) keepUnits(ctx context.Context) error {
	const meet = `INSERT INTO other_book (identity, benches, at_us) VALUES (?, ?, ?)
		ON CONFLICT (identity) DO UPDATE SET benches = excluded.benches RETURNING id`
	return m.into.write(ctx, m.doing, func(tx *sql.Tx) error {
		err := tx.QueryRowContext(ctx, meet, m.done.Identity, listed(m.done.Benches), m.into.now().UnixMicro()).Scan(&m.number)
		if err != nil {
			return err
		}
		return m.eachUnit(ctx, func(u knownUnit) error { return m.keepUnit(ctx, tx, u) })
	})
}

// keepUnit writes one unit. That it was booked in twice, at two benches, becomes a
// note.
func (m *bookImport) keepUnit(ctx context.Context, tx *sql.Tx, u knownUnit) error {
	const insert = `INSERT INTO unit (asset, console, added_us) VALUES (?, ?, ?) ON CONFLICT DO NOTHING`
	const keep = `INSERT INTO other_unit (book, asset, own) VALUES (?, ?, ?) ON CONFLICT DO NOTHING`
	own, known := m.units[u.asset]
	if !known {
		return nil // it came after the import had begun
	}
	result, err := tx.ExecContext(ctx, insert, string(own), string(u.console), u.added)
	if err != nil {
		return err
	}
	fresh, err := result.RowsAffected()
	if err != nil {
		return err
	}
	m.done.Units += fresh
	if result, err = tx.ExecContext(ctx, keep, m.number, string(u.asset), string(own)); err != nil {
		return err
	}
	first, err := result.RowsAffected()
	if err != nil || first == 0 {
		return err
	}
	if own != u.asset {
		m.tell("unit %s of that book is %s here", u.asset, own)
		return m.into.addNote(ctx, tx, own, Note{At: fromMicro(u.added), Text: fmt.Sprintf("it has the asset number %s in the book of %s", u.asset, listed(m.done.Benches))})
	}
	if fresh > 0 {
		return nil
	}
	var added int64
	if err := tx.QueryRowContext(ctx, `SELECT added_us FROM unit WHERE asset = ?`, string(own)).Scan(&added); err != nil || added == u.added {
		return err
	}
	return m.into.addNote(ctx, tx, own, Note{At: fromMicro(u.added), Text: "booked in at " + listed(m.done.Benches) + " as well"})
}
