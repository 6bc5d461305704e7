package book

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

	"soakline/checks"
)

// BookImport says how another bench's book is taken over.
type BookImport struct {
	// SameUnits takes a unit that both books have, under one asset number and of one
	// console, for one that went from bench to bench.
	SameUnits bool
	// Rename gives units of the other book other asset numbers here: old to new.
	Rename map[checks.UnitID]checks.UnitID
}

// BookImported says what an import of a book did.
type BookImported struct {
	// Identity is that of the other book, Benches the names of its benches.
	Identity string
	Benches  []string
	// Readings were put into this book; Known ones were in it already.
	Readings, Known int64
	// The rest counts what came new.
	Units, Soaks, Rounds, Trials, Finals, Verdicts, Captures, Links int64
	// Others are events, notes, losses and runs.
	Others int64
	// Told are things that whoever imported should know, a line each: what is still
	// under way there and was passed over, what goes by another name here.
	Told []string
}

// bookImport is one run of ImportBook.
type bookImport struct {
	from, into *Book
	how        BookImport
	progress   func(done, total int64)
	done       BookImported
	number     int64 // of the other book, in other_book
	upTo       upTo
	units      map[checks.UnitID]checks.UnitID
	journal    *journal
	doing      string
}

// ImportBook takes over all that another book has and this one has not: units with
// their notes, readings, trials, rounds, soaks, final tests, captures, verdicts,
// events. Numbers of records change on the way; what was measured, judged and chained
// does not. Importing twice changes nothing; an import that was broken off goes on
// when it is begun again. Memory does not grow with what is taken over.
//
// The other book's chain is verified first, and one that does not fit is ErrDamaged.
// Its records are chained anew here, their origin named, and its links are kept, so
// that Check verifies both. Asset numbers that two units have are ErrExists; how says
// the way on. A soak or final test that is under way there is passed over and told.
// The other book may be in use. Progress, if not nil, is told how many readings of how
// many were seen.
func (b *Book) ImportBook(ctx context.Context, from *Book, how BookImport, progress func(done, total int64)) (BookImported, error) {
	m := &bookImport{from: from, into: b, how: how, progress: progress, journal: newJournal(), doing: "import " + from.path}
	if b.writing == nil {
		return m.done, &Error{Path: b.path, Doing: m.doing, Kind: ErrReadOnly}
	}
	for _, part := range []func(context.Context) error{m.look, m.meet, m.decideUnits, m.keepUnits, m.readings, m.records, m.links, m.verify} {
		if err := part(ctx); err != nil {
			return m.done, b.fail(m.doing, err)
		}
	}
	return m.done, nil
}

// upTo is what of the other book is taken over: all that was there when the import
// began, so that records never come without their readings.
type upTo struct {
	id    map[string]int64 // the newest row, by table
	chain ChainLink
	// underWay are soaks and final tests that had not ended.
	soaks, finals map[int64]bool
}

// numberedTables are those of which the newest row is noted.
var numberedTables = []string{"daemon_run", "unit_note", "loss", "soak", "event", "verdict", "trial", "round", "capture", "final_test", "final_verdict"}

// look verifies the other book's chain and notes how far it is, all at one moment.
func (m *bookImport) look(ctx context.Context) error {
	tx, err := m.from.reading.BeginTx(ctx, nil)
	if err != nil {
		return m.from.fail("read", err)
	}
	defer func() { _ = tx.Rollback() }() // it has only read
	c := &checker{book: m.from}
	if err := verifyChain(ctx, c, tx); err != nil {
		return m.from.fail("verify the chain", err)
	}
	if n := len(c.problems); n > 0 {
		return &Error{Path: m.from.path, Doing: "verify the chain", Kind: ErrDamaged, Detail: fmt.Sprintf("%v (%d problems in all)", c.problems[0], n),
			Hint: "nothing was imported; soakline book check names them all, and its readings alone can go through book export and book import"}
	}
	return m.from.fail("read", m.lookFar(ctx, tx))
}

func (m *bookImport) lookFar(ctx context.Context, tx *sql.Tx) (err error) {
	m.upTo.id = make(map[string]int64)
	for _, table := range numberedTables {
		var newest int64
		if err := tx.QueryRowContext(ctx, `SELECT coalesce(max(id), 0) FROM `+table).Scan(&newest); err != nil { // #nosec G202 -- constants
			return err
		}
		m.upTo.id[table] = newest
	}
	if m.upTo.chain, err = linkBy(ctx, tx, ` ORDER BY position DESC LIMIT 1`); err != nil {
		return err
	}
	if m.upTo.soaks, err = numbersOf(ctx, tx, `SELECT id FROM soak WHERE state = 'running'`); err != nil {
		return err
	}
	m.upTo.finals, err = numbersOf(ctx, tx, `SELECT id FROM final_test WHERE end_us IS NULL`)
	return err
}

// numbersOf is the set of numbers that a query gives.
func numbersOf(ctx context.Context, in asker, query string) (map[int64]bool, error) {
	rows, err := in.QueryContext(ctx, query)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	set := make(map[int64]bool)
	for rows.Next() {
		id, err := scanInt(rows)
		if err != nil {
			return nil, err
		}
		set[id] = true
	}
	return set, rows.Err()
}

// tell adds a line to what is told.
func (m *bookImport) tell(format string, args ...any) {
	m.done.Told = append(m.done.Told, fmt.Sprintf(format, args...))
}

// meet looks who the other book is, and whether something of it is here already.
func (m *bookImport) meet(ctx context.Context) error {
	theirs, err := m.from.Identity(ctx)
	if err != nil {
		return err
	}
	own, err := m.into.Identity(ctx)
	if err != nil {
		return err
	}
	if theirs == own {
		return &Error{Path: m.into.path, Doing: m.doing, Kind: ErrInvalid, Detail: "it is this book, or a copy of it", Hint: "there is nothing to import"}
	}
	m.done.Identity = theirs
	if m.done.Benches, err = m.from.benches(ctx); err != nil {
		return err
	}
	err = m.into.reading.QueryRowContext(ctx, `SELECT id FROM other_book WHERE identity = ?`, theirs).Scan(&m.number)
	if errors.Is(err, sql.ErrNoRows) {
		return nil
	}
	if err != nil {
		return err
	}
	return m.sameChain(ctx)
}

// sameChain refuses a book whose chain is not the one that was taken over before.
func (m *bookImport) sameChain(ctx context.Context) error {
	before, err := m.into.newestOther(ctx, m.number)
	if err != nil || before.Position == 0 {
		return err
	}
	now, err := linkBy(ctx, m.from.reading, ` WHERE position = ?`, before.Position)
	if err != nil {
		return m.from.fail("read the chain", err)
	}
	if now.Hash == before.Hash {
		return nil
	}
	return &Error{Path: m.from.path, Doing: "compare the chain with what was imported before", Kind: ErrDamaged,
		Detail: fmt.Sprintf("link %d was %s then and is %s now", before.Position, before.ShortHash(), orElseText(now.ShortHash(), "not there")),
		Hint:   "it was made anew, or went back to an older copy and on from there; nothing was imported; its readings alone can go through book export and book import"}
}

func orElseText(text, otherwise string) string {
	if text == "" {
		return otherwise
	}
	return text
}

// Identity is what a book is known by: 32 hex digits, the same in every copy of it.
func (b *Book) Identity(ctx context.Context) (identity string, err error) {
	err = b.reading.QueryRowContext(ctx, `SELECT value FROM about WHERE key = 'identity'`).Scan(&identity)
	if errors.Is(err, sql.ErrNoRows) {
		err = damage{errors.New("it has no identity")}
	}
	return identity, b.fail("read its identity", err)
}

// benches lists the names of the benches that a book has something of.
func (b *Book) benches(ctx context.Context) ([]string, error) {
	const query = `SELECT bench FROM daemon_run UNION SELECT bench FROM series UNION SELECT bench FROM soak
		UNION SELECT bench FROM round UNION SELECT bench FROM final_test ORDER BY 1`
	return collect(ctx, b, "list benches", query, nil, func(rows *sql.Rows) (name string, err error) {
		err = rows.Scan(&name)
		return name, err
	})
}
