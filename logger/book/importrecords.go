package book

import (
	"context"
	"database/sql"
	"fmt"
	"slices"

	"soakline/checks"
)

// recordsAtOnce is how many trials, rounds or final tests go in with one commit; a
// soak, which may have thousands of captures, has its own.
const recordsAtOnce = 64

// records takes over all that is no reading, each after what it refers to.
func (m *bookImport) records(ctx context.Context) error {
	for _, part := range []func(context.Context) error{m.sheets, m.others, m.trials, m.rounds, m.soaks, m.finals} {
		if err := part(ctx); err != nil {
			return err
		}
	}
	return nil
}

// wholeTables are taken over row by row as they are: equal rows are one.
var wholeTables = []string{"sheet", "other_line"}

func (m *bookImport) sheets(ctx context.Context) error {
	for _, table := range wholeTables {
		err := m.into.write(ctx, m.doing, func(tx *sql.Tx) error {
			return m.eachRow(ctx, "SELECT * FROM "+table, nil, func(r row) error { // #nosec G202 -- constants
				_, err := tx.ExecContext(ctx, insertInto(table, r.columns)+" ON CONFLICT DO NOTHING", r.values...)
				return err
			})
		})
		if err != nil {
			return err
		}
	}
	return nil
}

func (m *bookImport) others(ctx context.Context) error {
	for _, c := range counted {
		if err := m.counted(ctx, c.table, c.columns); err != nil {
			return err
		}
	}
	return m.pages(ctx, copiedRun.table, othersAtOnce, func(ctx context.Context, tx *sql.Tx, id int64) error {
		_, fresh, err := m.record(ctx, tx, &copiedRun, id)
		m.done.Others += one(fresh)
		return err
	})
}

// one is 1 for true.
func one(is bool) int64 {
	if is {
		return 1
	}
	return 0
}

// record takes the row of that number over.
func (m *bookImport) record(ctx context.Context, tx *sql.Tx, t *copied, id int64) (own int64, fresh bool, err error) {
	err = m.eachRow(ctx, "SELECT * FROM "+t.table+" WHERE id = ?", []any{id}, func(r row) (err error) { // #nosec G202 -- constants
		own, fresh, err = m.numbered(ctx, tx, t, r)
		return err
	})
	return own, fresh, err
}

func (m *bookImport) trials(ctx context.Context) error {
	return m.pages(ctx, copiedTrial.table, recordsAtOnce, func(ctx context.Context, tx *sql.Tx, id int64) error {
		_, fresh, err := m.record(ctx, tx, &copiedTrial, id)
		m.done.Trials += one(fresh)
		return err
	})
}

func (m *bookImport) rounds(ctx context.Context) error {
	return m.pages(ctx, copiedRound.table, recordsAtOnce, m.round)
}

// round takes a round over with its readings and captures. One that has not ended
// here gets what it has now.
func (m *bookImport) round(ctx context.Context, tx *sql.Tx, id int64) error {
	return m.eachRow(ctx, `SELECT * FROM round WHERE id = ?`, []any{id}, func(r row) error {
		open, err := m.openRound(ctx, tx, id)
		if err != nil {
			return err
		}
		label, _ := r.at("label").(string)
		unique, err := m.label(ctx, tx, r, label)
		if err != nil {
			return err
		}
		r.values[slices.Index(r.columns, "label")] = unique
		own, fresh, err := m.numbered(ctx, tx, &copiedRound, r)
		if err != nil {
			return err
		}
		if fresh && unique != label {
			m.tell("round %q of unit %s is %q here: the unit has one of that label already", label, r.at("unit"), unique)
		}
		m.done.Rounds += one(fresh)
		if err := m.parts(ctx, tx, roundParts, "round", id, own, open, nil); err != nil {
			return err
		}
		return m.captures(ctx, tx, `SELECT * FROM capture WHERE round = ? AND id <= ?`, id)
	})
}

// openRound tells whether a round is here and has not ended.
func (m *bookImport) openRound(ctx context.Context, tx *sql.Tx, id int64) (open bool, err error) {
	own, known, err := m.ownNumber(ctx, tx, kindRound, id)
	if err != nil || !known {
		return false, err
	}
	err = tx.QueryRowContext(ctx, `SELECT end_us IS NULL FROM round WHERE id = ?`, own).Scan(&open)
	return open, err
}

// label returns the label that a round goes by here: with its bench's name where
// another round of the unit has the same.
func (m *bookImport) label(ctx context.Context, tx *sql.Tx, r row, label string) (string, error) {
	const taken = `SELECT count(*) FROM round WHERE unit = ? AND label = ? AND NOT (bench = ? AND begin_us = ? AND sheet = ? AND candidate IS ?)`
	asset, _ := r.at("unit").(string)
	unique := label
	for n := 1; ; n++ {
		var others int64
		err := tx.QueryRowContext(ctx, taken, string(m.own(checks.UnitID(asset))), unique, r.at("bench"), r.at("begin_us"), r.at("sheet"), r.at("candidate")).Scan(&others)
		if err != nil || others == 0 {
			return unique, err
		}
		unique = fmt.Sprintf("%s (%v)", label, r.at("bench"))
		if n > 1 {
			unique = fmt.Sprintf("%s (%v %d)", label, r.at("bench"), n)
		}
	}
}

// captures takes the captures of a soak or round over, one by one.
func (m *bookImport) captures(ctx context.Context, tx *sql.Tx, query string, owner int64) error {
	return m.eachRow(ctx, query, []any{owner, m.upTo.id["capture"]}, func(r row) error {
		_, fresh, err := m.numbered(ctx, tx, &copiedCapture, r)
		m.done.Captures += one(fresh)
		return err
	})
}

func (m *bookImport) soaks(ctx context.Context) error {
	return m.pages(ctx, copiedSoak.table, 1, m.soak)
}

// soak takes a soak over that has ended, with all that belongs to it, and chains it.
func (m *bookImport) soak(ctx context.Context, tx *sql.Tx, id int64) error {
	if m.upTo.soaks[id] {
		return m.passOver(ctx, "soak", id, `SELECT unit FROM soak WHERE id = ?`)
	}
	own, fresh, err := m.record(ctx, tx, &copiedSoak, id)
	if err != nil {
		return err
	}
	m.done.Soaks += one(fresh)
	links := importedLinks{}
	err = m.parts(ctx, tx, soakParts, "soak", id, own, false, func(table string, r row) {
		if table == "excursion" {
			key := func(soak int64) string {
				return recordKey(soak, r.at("test_point"), r.at("measure"), r.at("from_us"), r.at("state"))
			}
			links = append(links, importedLink{kind: table, theirs: key(id), own: key(own)})
		}
	})
	if err != nil {
		return err
	}
	if err := m.captures(ctx, tx, `SELECT * FROM capture WHERE soak = ? AND id <= ?`, id); err != nil {
		return err
	}
	if err := m.verdicts(ctx, tx, &copiedVerdict, `SELECT * FROM verdict WHERE soak = ? AND id <= ?`, id, &links); err != nil {
		return err
	}
	if err := m.thinning(ctx, tx, id, own); err != nil {
		return err
	}
	return m.chain(ctx, tx, links)
}

// verdicts takes the verdicts on a soak or a final test over.
func (m *bookImport) verdicts(ctx context.Context, tx *sql.Tx, t *copied, query string, on int64, links *importedLinks) error {
	return m.eachRow(ctx, query, []any{on, m.upTo.id[t.table]}, func(r row) error {
		number := r.number("id")
		own, fresh, err := m.numbered(ctx, tx, t, r)
		m.done.Verdicts += one(fresh)
		*links = append(*links, importedLink{kind: t.kind, theirs: recordKey(number), own: recordKey(own)})
		return err
	})
}

func (m *bookImport) finals(ctx context.Context) error {
	return m.pages(ctx, copiedFinal.table, recordsAtOnce, m.final)
}

// final takes a final test over that has ended, and chains its verdicts.
func (m *bookImport) final(ctx context.Context, tx *sql.Tx, id int64) error {
	if m.upTo.finals[id] {
		return m.passOver(ctx, "final test", id, `SELECT unit FROM final_test WHERE id = ?`)
	}
	own, fresh, err := m.record(ctx, tx, &copiedFinal, id)
	if err != nil {
		return err
	}
	m.done.Finals += one(fresh)
	if err := m.parts(ctx, tx, finalParts, "final", id, own, false, nil); err != nil {
		return err
	}
	links := importedLinks{}
	if err := m.verdicts(ctx, tx, &copiedFinalVerdict, `SELECT * FROM final_verdict WHERE final = ? AND id <= ?`, id, &links); err != nil {
		return err
	}
	return m.chain(ctx, tx, links)
}

// passOver tells that something has not ended there.
func (m *bookImport) passOver(ctx context.Context, what string, id int64, query string) error {
	return m.eachRow(ctx, query, []any{id}, func(r row) error {
		m.tell("%s %d of that book, unit %s, has not ended there and was passed over: import again when it has", what, id, r.at("unit"))
		return nil
	})
}
