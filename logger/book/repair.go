package book

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"soakline/checks"
)

// Salvaged is what Repair could take over.
type Salvaged struct {
	Readings int64
	Blocks   int64
	// Problems are what is missing or was mended.
	Problems []Problem
}

// savedTables are all tables but those of the readings, each after those that it
// refers to.
var savedTables = []string{
	"daemon_run", "unit", "unit_note", "series", "loss", "sheet", "soak", "soak_instrument", "excursion", "gap",
	"thinning", "thinned", "event", "verdict", "chain", "trial", "round", "round_reading", "capture",
	"final_test", "final_instrument", "final_step", "final_verdict", "pause", "other_line",
	"other_book", "other_unit", "other_record", "other_link",
}

// Repair writes all that can be read of the book into a new one at path, which
// must not exist, and builds anew what can be told from the rest: the table of
// blocks from the blocks, the tail from its rows. The book itself stays as it is.
func (b *Book) Repair(ctx context.Context, path string, progress func(done, total int64)) (Salvaged, error) {
	doing := "save what can be read to " + path
	if fileSize(path) > 0 {
		return Salvaged{}, b.refuse(doing, ErrTaken, "%s", path)
	}
	fresh, err := Open(ctx, path, b.options.writing())
	if err != nil {
		return Salvaged{}, err
	}
	r := &repair{from: b, series: make(map[int64]bool), journal: &journal{writer: newBlockWriter()}}
	r.checker = checker{book: b, progress: progress}
	err = fresh.write(ctx, doing, func(tx *sql.Tx) error { return r.run(ctx, tx) })
	r.saved.Problems = r.problems
	return r.saved, errors.Join(err, fresh.Close())
}

func (o Options) writing() Options {
	o.ReadOnly = false
	return o
}

// repair is one run of Repair.
type repair struct {
	checker
	from    *Book
	series  map[int64]bool
	open    map[int64]*openSeries
	journal *journal
	saved   Salvaged
}

func (r *repair) run(ctx context.Context, tx *sql.Tx) error {
	for _, table := range savedTables {
		if err := r.table(ctx, tx, table); err != nil {
			return err
		}
	}
	if err := r.identity(ctx, tx); err != nil {
		return err
	}
	in, err := newBlockInserter(ctx, tx)
	if err != nil {
		return err
	}
	r.open = make(map[int64]*openSeries)
	var reader blockReader
	ids := r.blockIDs(ctx)
	r.total = int64(len(ids))
	for _, id := range ids {
		if err := ctx.Err(); err != nil {
			return err
		}
		r.step()
		if err := r.block(ctx, tx, in, &reader, id); err != nil {
			return err
		}
	}
	if err := r.tail(ctx, tx, in, &reader); err != nil {
		return err
	}
	return overviewAll(ctx, tx)
}

// identity has the new book known as the old one, if that can be read.
func (r *repair) identity(ctx context.Context, tx *sql.Tx) error {
	identity, err := r.from.Identity(ctx)
	if err != nil {
		r.add(false, "identity", "%v", err)
		return nil
	}
	_, err = tx.ExecContext(ctx, `UPDATE about SET value = ? WHERE key = 'identity'`, identity)
	return err
}

// table copies a table row by row; where its pages end early, from the other end
// as well.
func (r *repair) table(ctx context.Context, tx *sql.Tx, table string) error {
	seen := make(map[string]bool)
	for _, order := range []string{"", " ORDER BY rowid DESC"} {
		broken, err := r.rows(ctx, tx, table, order, seen)
		if err != nil || broken == nil {
			return err
		}
		r.add(false, "table "+table, "%v", broken)
	}
	return nil
}

// rows copies what one query gives. Broken is what ended it early, err what went
// wrong with the new book.
func (r *repair) rows(ctx context.Context, tx *sql.Tx, table, order string, seen map[string]bool) (broken, err error) {
	rows, broken := r.from.reading.QueryContext(ctx, "SELECT * FROM "+table+order) // #nosec G202 -- constants
	if broken != nil {
		return broken, nil
	}
	defer rows.Close()
	columns, err := rows.Columns()
	if err != nil {
		return nil, err
	}
	insert := "INSERT OR IGNORE INTO " + table + " VALUES (" + strings.TrimSuffix(strings.Repeat("?,", len(columns)), ",") + ")"
	for rows.Next() {
		values, targets := make([]any, len(columns)), make([]any, len(columns))
		for i := range values {
			targets[i] = &values[i]
		}
		if broken := rows.Scan(targets...); broken != nil {
			return broken, nil
		}
		key := fmt.Sprint(values[0], values[1])
		if seen[key] && order != "" {
			continue
		}
		seen[key] = true
		if _, err := tx.ExecContext(ctx, insert, values...); hopeless(err) {
			r.add(false, "table "+table, "row %v: %v", values[0], err)
		} else if err != nil {
			return nil, err
		}
		if id, ok := values[0].(int64); ok && table == "series" {
			r.series[id] = true
		}
	}
	return rows.Err(), nil
}

// blockIDs lists the ids of all blocks that are told of anywhere.
func (r *repair) blockIDs(ctx context.Context) []int64 {
	var ids []int64
	for _, query := range []string{`SELECT id FROM block`, `SELECT id FROM block_data`, `SELECT id FROM block_data ORDER BY id DESC`} {
		_, err := collect(ctx, r.from, "list blocks", query, nil, func(rows *sql.Rows) (none struct{}, err error) {
			id, err := scanInt(rows)
			if err == nil {
				ids = append(ids, id)
			}
			return none, err
		})
		if err != nil {
			r.add(false, "list of blocks", "%v", err)
		}
	}
	slices.Sort(ids)
	return slices.Compact(ids)
}

// block takes a block over with a row made from it.
func (r *repair) block(ctx context.Context, tx *sql.Tx, in *blockInserter, reader *blockReader, id int64) error {
	place := fmt.Sprintf("block %d", id)
	data, err := r.from.blockData(ctx, id)
	var figures []figure
	if err == nil {
		figures, err = reader.readAny(data)
	}
	if err != nil {
		r.add(false, place, "%v; its readings are lost", err)
		return nil
	}
	open, err := r.seriesOf(ctx, tx, reader.series, place)
	if err != nil {
		return err
	}
	if !inOrder(figures) {
		figures = ordered(figures)
		data = appendSum(r.journal.writer.append(nil, open.id, figures, &open.clause))
	}
	s := summarize(figures)
	in.next = max(in.next, id)
	err = in.insert(ctx, open.id, data, s, s.first <= open.reach)
	open.reach = max(open.reach, s.last)
	r.saved.Readings += s.count
	r.saved.Blocks++
	return err
}

// readAny checks the sum of a block of any series and reads it.
func (r *blockReader) readAny(data []byte) ([]figure, error) {
	body, err := cutSum(data)
	if err != nil {
		return nil, err
	}
	return r.figures(nil, body)
}

// seriesOf returns a series; one whose row is lost gets a name that says so.
func (r *repair) seriesOf(ctx context.Context, tx *sql.Tx, id int64, place string) (*openSeries, error) {
	const insert = `INSERT INTO series (id, bench, console, unit, test_point, instrument, measure) VALUES (?, '', '', ?, ?, '', '')`
	if open, ok := r.open[id]; ok {
		return open, nil
	}
	open := newOpenSeries(id)
	open.reach = math.MinInt64
	r.open[id] = open
	if r.series[id] {
		return open, nil
	}
	r.series[id] = true
	name := checks.UnitID(fmt.Sprintf("unknown series %d", id))
	r.add(false, place, "the tag of its series is lost; its readings are kept under the unit %q", name)
	_, err := tx.ExecContext(ctx, insert, id, string(name), string(name))
	return open, err
}

// tail puts the readings that were in no block into blocks of their own.
func (r *repair) tail(ctx context.Context, tx *sql.Tx, in *blockInserter, reader *blockReader) error {
	shot := snapshot{tails: make(map[int64][]figure)}
	rows, err := collect(ctx, r.from, "read the tail", `SELECT id, data FROM tail ORDER BY id`, nil, func(rows *sql.Rows) (none struct{}, err error) {
		var id int64
		var data []byte
		if err := rows.Scan(&id, &data); err != nil {
			return none, err
		}
		if err := reader.readTail(data, nil, shot.replay); err != nil {
			r.add(false, fmt.Sprintf("tail row %d", id), "%v; its readings are lost", err)
		}
		return none, nil
	})
	if err != nil {
		r.add(false, fmt.Sprintf("tail after row %d", len(rows)), "%v", err)
	}
	for id, figures := range shot.tails {
		if len(figures) == 0 {
			continue
		}
		open, err := r.seriesOf(ctx, tx, id, "tail")
		if err != nil {
			return err
		}
		open.figures = figures
		r.saved.Readings += int64(len(figures))
		if err := r.journal.seal(ctx, in, open, true); err != nil {
			return err
		}
	}
	return nil
}
