package book

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math"
)

// snapshot is what of some series is in the tail, and which blocks there are, at
// one moment. Blocks are never changed, so that what is in them can be read later.
type snapshot struct {
	tails map[int64][]figure // in time order, within the span
	upTo  map[int64]int64    // the newest block's id
}

// snapshot reads the tail within one read transaction.
func (b *Book) snapshot(ctx context.Context, found []series, within span) (snapshot, error) {
	newest, err := b.prepared(ctx, newestBlock)
	if err != nil {
		return snapshot{}, err
	}
	tail, err := b.prepared(ctx, selectTail)
	if err != nil {
		return snapshot{}, err
	}
	tx, err := b.reading.BeginTx(ctx, nil)
	if err != nil {
		return snapshot{}, err
	}
	shot, err := readSnapshot(ctx, tx.StmtContext(ctx, newest), tx.StmtContext(ctx, tail), found, within)
	err = errors.Join(err, tx.Rollback())
	if ctx.Err() != nil { // which ends the transaction, whatever the database makes of that
		return shot, ctx.Err()
	}
	return shot, err
}

const (
	newestBlock = `SELECT coalesce(max(id), 0) FROM (
		SELECT * FROM (SELECT id FROM block WHERE series = ?1 AND late = 0 ORDER BY first_us DESC LIMIT 1)
		UNION ALL SELECT max(id) FROM block WHERE series = ?1 AND late = 1)`
	selectTail = `SELECT id, data FROM tail ORDER BY id`
)

func readSnapshot(ctx context.Context, newest, tail *sql.Stmt, found []series, within span) (snapshot, error) {
	shot := snapshot{tails: make(map[int64][]figure), upTo: make(map[int64]int64)}
	wanted := make(map[int64]bool, len(found))
	for _, s := range found {
		wanted[s.id] = true
		var id int64
		if err := newest.QueryRowContext(ctx, s.id).Scan(&id); err != nil {
			return shot, err
		}
		shot.upTo[s.id] = id
	}
	rows, err := tail.QueryContext(ctx)
	if err != nil {
		return shot, err
	}
	defer rows.Close()
	var reader blockReader
	for rows.Next() {
		var id int64
		var data sql.RawBytes
		if err := rows.Scan(&id, &data); err != nil {
			return shot, err
		}
		if err := reader.readTail(data, wanted, shot.replay); err != nil {
			return shot, damage{fmt.Errorf("row %d: %w", id, err)}
		}
	}
	for id, figures := range shot.tails {
		shot.tails[id] = within.of(ordered(figures))
	}
	return shot, rows.Err()
}

func (s snapshot) replay(part section) {
	if part.whole {
		s.tails[part.series] = nil
	}
	s.tails[part.series] = append(s.tails[part.series], part.figures...)
}

// of returns the figures of an ordered list that lie in the span.
func (s span) of(figures []figure) []figure {
	return figures[s.firstNotBefore(figures, s.from):s.firstNotBefore(figures, s.until)]
}

// firstNotBefore is the index of the first figure that is not before a time.
func (s span) firstNotBefore(figures []figure, at int64) int {
	low, high := 0, len(figures)
	for low < high {
		middle := int(uint(low+high) >> 1) // #nosec G115 -- indices
		if figures[middle].at < at {
			low = middle + 1
		} else {
			high = middle
		}
	}
	return low
}

// tailSeq orders the tail behind all blocks.
const tailSeq = math.MaxInt64

// blockRef is where a block is and what it spans.
type blockRef struct {
	id          int64
	first, last int64
}

// refPage is how many block references are fetched at once.
const refPage = 256

// refs lists the blocks of a series that can have readings in a span, in the order
// of their first readings, page by page.
type refs struct {
	series int64
	within span
	upTo   int64
	page   []blockRef
	begun  bool
	after  blockRef // the last one fetched
	done   bool
}

// peek returns the next reference; nil at the end.
func (r *refs) peek(ctx context.Context, b *Book) (*blockRef, error) {
	for len(r.page) == 0 && !r.done {
		if err := r.fetch(ctx, b); err != nil {
			return nil, err
		}
	}
	if len(r.page) == 0 {
		return nil, nil
	}
	return &r.page[0], nil
}

func (r *refs) take() { r.page = r.page[1:] }

// begin finds where to start: the last block that begins before the span and is
// not late has all that were written before it before it. Late ones that begin
// before it are looked for by themselves.
func (r *refs) begin(ctx context.Context, b *Book) error {
	const start = `SELECT first_us FROM block WHERE series = ? AND late = 0 AND first_us <= ? ORDER BY first_us DESC LIMIT 1`
	const late = `SELECT id, first_us, last_us FROM block INDEXED BY block_late
		WHERE series = ? AND late = 1 AND first_us < ? AND last_us >= ? AND first_us < ? AND id <= ? ORDER BY first_us, id`
	r.begun = true
	from := int64(math.MinInt64)
	err := b.queryOne(ctx, start, []any{r.series, r.within.from}, []any{&from})
	if err != nil && !errors.Is(err, sql.ErrNoRows) {
		return err
	}
	r.after = blockRef{first: from, id: -1}
	r.page, err = collect(ctx, b, "find blocks", late, []any{r.series, from, r.within.from, r.within.until, r.upTo}, scanRef)
	return err
}

func (r *refs) fetch(ctx context.Context, b *Book) error {
	const next = `SELECT id, first_us, last_us FROM block
		WHERE series = ? AND (first_us, id) > (?, ?) AND first_us < ? AND id <= ? ORDER BY first_us, id LIMIT ?`
	if !r.begun {
		if err := r.begin(ctx, b); err != nil || len(r.page) > 0 {
			return err
		}
	}
	args := []any{r.series, r.after.first, r.after.id, r.within.until, r.upTo, refPage}
	page, err := collect(ctx, b, "find blocks", next, args, scanRef)
	if err != nil {
		return err
	}
	r.done = len(page) < refPage
	for _, ref := range page {
		r.after = ref
		if ref.last >= r.within.from {
			r.page = append(r.page, ref)
		}
	}
	return nil
}

func scanRef(rows *sql.Rows) (blockRef, error) {
	var r blockRef
	err := rows.Scan(&r.id, &r.first, &r.last)
	return r, err
}

// everything is the span without bounds.
var everything = span{from: math.MinInt64, until: math.MaxInt64}
