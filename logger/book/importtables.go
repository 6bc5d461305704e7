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

// copied is a table of which rows are taken over.
type copied struct {
	table string
	// kind names its rows in other_record; empty where rows have no number.
	kind string
	// refs are the columns that name records of other tables, with their kinds.
	refs map[string]string
	// key are the columns by which a row is known again, if its number is new.
	key []string
	// later are columns that are filled in when a row ends: one that has not ended
	// here is brought up to date.
	later []string
}

// The kinds of records that have a number.
const (
	kindTrial   = "trial"
	kindRound   = "round"
	kindSoak    = "soak"
	kindFinal   = "final"
	kindVerdict = "verdict"
	kindCapture = "capture"
	kindRun     = "run"
)

var (
	copiedRun   = copied{table: "daemon_run", kind: kindRun, key: []string{"bench", "program", "pid", "begin_us"}, later: []string{"end_us"}}
	copiedTrial = copied{table: "trial", kind: kindTrial, key: []string{"unit", "part", "unit_name", "begin_us"}, later: []string{"end_us", "chosen"}}
	copiedRound = copied{table: "round", kind: kindRound, refs: map[string]string{"trial": kindTrial},
		key: []string{"bench", "unit", "sheet", "begin_us", "candidate"}, later: []string{"end_us"}}
	copiedSoak    = copied{table: "soak", kind: kindSoak, key: []string{"bench", "place", "unit", "sheet", "planned_us", "begin_us"}}
	copiedVerdict = copied{table: "verdict", kind: kindVerdict, refs: map[string]string{"soak": kindSoak}, key: []string{"soak", "at_us", "outcome", "sheet_hash", "whole"}}
	copiedFinal   = copied{table: "final_test", kind: kindFinal, refs: map[string]string{"round": kindRound}, key: []string{"bench", "place", "unit", "sheet", "begin_us"}}

	copiedFinalVerdict = copied{table: "final_verdict", kind: finalVerdictKind, refs: map[string]string{"final": kindFinal},
		key: []string{"final", "at_us", "outcome", "sheet_hash", "whole"}}
	copiedCapture = copied{table: "capture", kind: kindCapture, refs: map[string]string{"soak": kindSoak, "round": kindRound},
		key: []string{"soak", "round", "test_point", "instrument", "kind", "at_us", "record"}}

	// soakParts, roundParts and finalParts have the number of what they belong to in
	// their key.
	soakParts  = []string{"soak_instrument", "excursion", "gap", "pause"}
	roundParts = []string{"round_reading"}
	finalParts = []string{"final_instrument", "final_step"}
)

// row is one row of the other book.
type row struct {
	columns []string
	values  []any
}

func (r row) at(column string) any { return r.values[slices.Index(r.columns, column)] }

func (r row) number(column string) int64 {
	n, _ := r.at(column).(int64)
	return n
}

// eachRow has something done with each row that a constant query gives of the other
// book; the row is valid until the next.
func (m *bookImport) eachRow(ctx context.Context, query string, args []any, do func(row) error) error {
	rows, err := m.from.query(ctx, query, args...)
	if err != nil {
		return m.from.fail("read", err)
	}
	defer rows.Close()
	var r row
	if r.columns, err = rows.Columns(); err != nil {
		return m.from.fail("read", err)
	}
	targets := make([]any, len(r.columns))
	for rows.Next() {
		r.values = make([]any, len(r.columns))
		for i := range targets {
			targets[i] = &r.values[i]
		}
		if err := rows.Scan(targets...); err != nil {
			return m.from.fail("read", err)
		}
		if err := do(r); err != nil {
			return err
		}
	}
	return m.from.fail("read", rows.Err())
}

// translate gives a row the numbers and asset numbers that it has here.
func (m *bookImport) translate(ctx context.Context, tx *sql.Tx, r row, refs map[string]string) error {
	for i, column := range r.columns {
		if asset, ok := r.values[i].(string); ok && column == "unit" {
			r.values[i] = string(m.own(checks.UnitID(asset)))
		}
		number, ok := r.values[i].(int64)
		kind, refers := refs[column]
		if !refers || !ok {
			continue
		}
		own, known, err := m.ownNumber(ctx, tx, kind, number)
		if err != nil {
			return err
		}
		if !known {
			return m.from.fail("read", damage{fmt.Errorf("%s %d, which something refers to, is missing", kind, number)})
		}
		r.values[i] = own
	}
	return nil
}

// ownNumber returns the number that a record of the other book has here.
func (m *bookImport) ownNumber(ctx context.Context, tx *sql.Tx, kind string, number int64) (own int64, known bool, err error) {
	err = tx.QueryRowContext(ctx, `SELECT own FROM other_record WHERE book = ? AND kind = ? AND number = ?`, m.number, kind, number).Scan(&own)
	if errors.Is(err, sql.ErrNoRows) {
		return 0, false, nil
	}
	return own, err == nil, err
}

// numbered takes a row with a number over, if it is not here yet, and returns its
// number here.
func (m *bookImport) numbered(ctx context.Context, tx *sql.Tx, t *copied, r row) (own int64, fresh bool, err error) {
	number := r.number("id")
	if err := m.translate(ctx, tx, r, t.refs); err != nil {
		return 0, false, err
	}
	own, known, err := m.ownNumber(ctx, tx, t.kind, number)
	if err != nil {
		return 0, false, err
	}
	found, err := m.find(ctx, tx, t, r, number)
	if err != nil {
		return 0, false, err
	}
	switch {
	case known && found != own:
		return 0, false, &Error{Path: m.from.path, Doing: m.doing, Kind: ErrDamaged,
			Detail: fmt.Sprintf("%s %d of it is not the one that was imported before", t.kind, number),
			Hint:   "that book went back to an older copy and on from there; its readings alone can go through book export and book import"}
	case known:
		return own, false, m.bringUp(ctx, tx, t, r, own)
	case found != 0:
		own = found
		err = m.bringUp(ctx, tx, t, r, own)
	default:
		fresh = true
		own, err = insertRow(ctx, tx, t.table, r)
	}
	if err != nil {
		return 0, false, err
	}
	return own, fresh, m.remember(ctx, tx, t.kind, number, own)
}

// remember notes which number a record has here, and whether it was written there first.
func (m *bookImport) remember(ctx context.Context, tx *sql.Tx, kind string, number, own int64) error {
	const put = `INSERT INTO other_record (book, kind, number, own, native) VALUES (?, ?, ?, ?, ?)`
	var native bool
	if err := m.from.queryOne(ctx, `SELECT NOT EXISTS (SELECT 1 FROM other_record WHERE kind = ? AND own = ?)`, []any{kind, number}, []any{&native}); err != nil {
		return m.from.fail("read", err)
	}
	_, err := tx.ExecContext(ctx, put, m.number, kind, number, own, native)
	return err
}

// find looks for a row that is the same record and did not come as another one from
// that book; 0 if there is none.
func (m *bookImport) find(ctx context.Context, tx *sql.Tx, t *copied, r row, number int64) (own int64, err error) {
	query := "SELECT id FROM " + t.table + " AS here WHERE " + strings.Join(t.key, " IS ? AND ") + ` IS ? AND NOT EXISTS
		(SELECT 1 FROM other_record WHERE book = ? AND kind = ? AND own = here.id AND number <> ?) ORDER BY id LIMIT 1` // #nosec G202 -- constants
	var args []any
	for _, column := range t.key {
		args = append(args, r.at(column))
	}
	err = tx.QueryRowContext(ctx, query, append(args, m.number, t.kind, number)...).Scan(&own)
	if errors.Is(err, sql.ErrNoRows) {
		return 0, nil
	}
	return own, err
}

// bringUp fills in what has come to a row since it was taken over.
func (m *bookImport) bringUp(ctx context.Context, tx *sql.Tx, t *copied, r row, own int64) error {
	if len(t.later) == 0 {
		return nil
	}
	update := "UPDATE " + t.table + " SET " + strings.Join(t.later, " = ?, ") + " = ? WHERE id = ? AND " + t.later[0] + " IS NULL" // #nosec G202 -- constants
	var args []any
	for _, column := range t.later {
		args = append(args, r.at(column))
	}
	_, err := tx.ExecContext(ctx, update, append(args, own)...)
	return err
}

// insertRow writes a row under a new number, which it returns.
func insertRow(ctx context.Context, tx *sql.Tx, table string, r row) (int64, error) {
	var columns []string
	var values []any
	for i, column := range r.columns {
		if column != "id" {
			columns, values = append(columns, column), append(values, r.values[i])
		}
	}
	result, err := tx.ExecContext(ctx, insertInto(table, columns), values...)
	if err != nil {
		return 0, err
	}
	return result.LastInsertId()
}

func insertInto(table string, columns []string) string {
	return "INSERT INTO " + table + " (" + strings.Join(columns, ", ") + ") VALUES (" +
		strings.TrimSuffix(strings.Repeat("?, ", len(columns)), ", ") + ")" // #nosec G202 -- constants
}

// parts takes the rows over that belong to a record, in the tables of which its
// number is part of the key. Rows that are here stay, unless anew is set.
func (m *bookImport) parts(ctx context.Context, tx *sql.Tx, tables []string, owner string, number, own int64, anew bool, each func(table string, r row)) error {
	conflict := " ON CONFLICT DO NOTHING"
	for _, table := range tables {
		err := m.eachRow(ctx, "SELECT * FROM "+table+" WHERE "+owner+" = ?", []any{number}, func(r row) error { // #nosec G202 -- constants
			r.values[slices.Index(r.columns, owner)] = own
			if each != nil {
				each(table, r)
			}
			insert := insertInto(table, r.columns)
			if anew {
				insert = strings.Replace(insert, "INSERT", "INSERT OR REPLACE", 1)
			} else {
				insert += conflict
			}
			_, err := tx.ExecContext(ctx, insert, r.values...)
			return err
		})
		if err != nil {
			return err
		}
	}
	return nil
}
