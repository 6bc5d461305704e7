package book

import (
	"context"
	"database/sql"
	"slices"
)

const (
	// fullBlock is how many bytes of block fill a page of 4096: a table leaf holds
	// 4061 bytes of a row by itself (SQLite file format, 1.6), 4 of which are the
	// record's header.
	fullBlock = 4050
	// keptRows is how many rows the tail has before what is left in the oldest is
	// carried over into the newest: a series that is seldom read must not keep the
	// rows of the others.
	keptRows = 512
)

// blockInserter writes blocks within one transaction.
type blockInserter struct {
	row, data *sql.Stmt
	next      int64 // block id
}

func newBlockInserter(ctx context.Context, tx *sql.Tx) (*blockInserter, error) {
	const row = `INSERT INTO block (series, first_us, id, last_us, count, low, high, sum, late) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)`
	const data = `INSERT INTO block_data (id, data) VALUES (?, ?)`
	var in blockInserter
	var err error
	if in.row, err = tx.PrepareContext(ctx, row); err != nil {
		return nil, err
	}
	if in.data, err = tx.PrepareContext(ctx, data); err != nil {
		return nil, err
	}
	err = tx.QueryRowContext(ctx, `SELECT coalesce(max(id), 0) + 1 FROM block_data`).Scan(&in.next)
	return &in, err
}

// insert writes one block of figures in time order.
func (in *blockInserter) insert(ctx context.Context, series int64, data []byte, s summary, late bool) error {
	if _, err := in.data.ExecContext(ctx, in.next, data); err != nil {
		return err
	}
	_, err := in.row.ExecContext(ctx, series, s.first, in.next, s.last, s.count, s.low, s.high, s.sum, late)
	in.next++
	return err
}

// seal moves full blocks out of a series; all puts what is left into a block too.
func (j *journal) seal(ctx context.Context, in *blockInserter, open *openSeries, all bool) error {
	taken := 0
	for {
		rest := open.figures[taken:]
		if len(rest) == 0 || len(rest) < open.target && !all {
			break
		}
		figures, data := j.fill(open, rest[:min(len(rest), open.target)])
		s := summarize(figures)
		if err := in.insert(ctx, open.id, data, s, open.reach >= s.first); err != nil {
			return err
		}
		if open.reach < s.first {
			open.left++
		}
		open.reach = max(open.reach, s.last)
		taken += len(figures)
	}
	if taken > 0 {
		open.sealed = true
		open.figures = slices.Delete(open.figures, 0, taken)
		open.fresh = 0
	}
	return nil
}

// fill encodes as many of the figures as fit into a page, and notes how many may
// fit the next time.
func (j *journal) fill(open *openSeries, figures []figure) (taken []figure, data []byte) {
	for {
		taken = ordered(figures)
		data = appendSum(j.writer.append(nil, open.id, taken, &open.clause))
		fitting := len(taken) * (fullBlock - fullBlock/100) / len(data)
		if len(data) > fullBlock && len(figures) > usual/16 {
			figures = figures[:min(fitting, len(figures)-1)]
			open.target = min(max(len(figures), usual/16), mostInBlock)
			continue
		}
		if len(figures) == open.target {
			open.target = min(max(fitting, usual/16), mostInBlock)
		}
		return taken, data
	}
}

// tailRow encodes the row of this commit, after blocks were sealed: the fresh
// figures of each series, or all that is left where that is said anew.
func (j *journal) tailRow() []byte {
	carryUntil := j.next - keptRows
	var row []byte
	for _, open := range j.inOrder() {
		carry := len(open.figures) > 0 && open.since <= carryUntil && open.since > 0
		if !open.touched && !carry {
			continue
		}
		s := section{series: open.id, whole: open.sealed && open.touched || carry || open.since == 0}
		if s.whole {
			s.figures = open.figures
			open.since = j.next
		} else {
			s.figures = open.figures[open.fresh:]
		}
		row = j.writer.appendSection(row, s, &open.clause)
		open.touched = false
	}
	return tailEncoder().EncodeAll(row, nil)
}

// inOrder lists the series by their number, so that equal commits give equal rows.
func (j *journal) inOrder() []*openSeries {
	all := make([]*openSeries, 0, len(j.byID))
	for _, open := range j.byID {
		all = append(all, open)
	}
	slices.SortFunc(all, func(a, b *openSeries) int { return compareInt(a.id, b.id) })
	return all
}

// write puts what was added into the book as the batch of a mark.
func (j *journal) write(ctx context.Context, tx *sql.Tx, mark []byte) error {
	if err := j.sealFull(ctx, tx); err != nil {
		return err
	}
	row := j.tailRow()
	if _, err := tx.ExecContext(ctx, `INSERT INTO tail (id, batch, data) VALUES (?, ?, ?)`, j.next, mark, row); err != nil {
		return err
	}
	needed := j.next
	for _, open := range j.byID {
		if len(open.figures) > 0 {
			needed = min(needed, open.since)
		}
	}
	j.next++
	if needed == j.first {
		return nil
	}
	j.first = needed
	_, err := tx.ExecContext(ctx, `DELETE FROM tail WHERE id < ?`, needed)
	return err
}

func (j *journal) sealFull(ctx context.Context, tx *sql.Tx) error {
	var in *blockInserter
	for _, open := range j.inOrder() {
		if !open.touched || len(open.figures) < open.target {
			continue
		}
		if in == nil {
			var err error
			if in, err = newBlockInserter(ctx, tx); err != nil {
				return err
			}
		}
		if err := j.seal(ctx, in, open, false); err != nil {
			return err
		}
		if open.left < inOverview {
			continue
		}
		var err error
		if open.left, err = overview(ctx, tx, open.id); err != nil {
			return err
		}
	}
	return nil
}
