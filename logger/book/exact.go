package book

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"runtime"

	"golang.org/x/sync/errgroup"
)

// exact counts each reading in its own interval. Blocks that lie in one are taken
// from their summaries, the others are decoded, on as many processors as there are.
func (q *envelopeQuery) exact(ctx context.Context) ([]Bucket, error) {
	cells := make([]summary, q.grid.n)
	var cut []cutBlock
	err := q.summaries(ctx, func(s blockSummary) error {
		inside := s.first >= q.grid.from && s.last < q.grid.until
		i := q.grid.index(max(s.first, q.grid.from))
		if inside && s.last < q.grid.edge(i+1) {
			cells[i].add(s.summary)
			return nil
		}
		once := inside && i+1 < q.grid.n && s.last < q.grid.edge(i+2)
		cut = append(cut, cutBlock{id: s.id, cell: i, once: once})
		return nil
	})
	if err != nil {
		return nil, err
	}
	if err := q.thinned(ctx, q.into(cells)); err != nil {
		return nil, err
	}
	if err := q.decode(ctx, cells, cut); err != nil {
		return nil, err
	}
	q.addFigures(cells, q.tail)
	buckets := make([]Bucket, q.grid.n)
	for i := range buckets {
		buckets[i] = q.grid.bucket(i, cells[i])
	}
	return buckets, nil
}

// cutBlock is a block to decode: it begins in a cell, and once says that it ends in
// the next one.
type cutBlock struct {
	id   int64
	cell int
	once bool
}

// decode adds the readings of blocks to cells.
func (q *envelopeQuery) decode(ctx context.Context, cells []summary, cut []cutBlock) error {
	const enough = 32 // blocks that are worth a processor
	workers := max(1, min(runtime.GOMAXPROCS(0), maxReaders, len(cut)/enough))
	parts := make([][]summary, workers)
	group, ctx := errgroup.WithContext(ctx)
	for w := range workers {
		mine := cut[len(cut)*w/workers : len(cut)*(w+1)/workers]
		parts[w] = make([]summary, len(cells))
		group.Go(func() error { return q.decodePart(ctx, parts[w], mine) })
	}
	if err := group.Wait(); err != nil {
		return err
	}
	for _, part := range parts {
		for i := range part {
			if part[i].count > 0 {
				cells[i].add(part[i])
			}
		}
	}
	return nil
}

// selectBlocks gives the blocks of a list of their ids (JSON): one query for all of
// them takes half the time of a query for each. They come in the order of the list,
// since the database walks through it; to ask for that would have it sort them.
const selectBlocks = `SELECT wanted.value, data FROM json_each(?) AS wanted LEFT JOIN block_data ON block_data.id = wanted.value`

func (q *envelopeQuery) decodePart(ctx context.Context, cells []summary, cut []cutBlock) error {
	if len(cut) == 0 {
		return nil
	}
	ids := make([]int64, len(cut))
	for i := range cut {
		ids[i] = cut[i].id
	}
	list, err := json.Marshal(ids)
	if err != nil {
		return err
	}
	rows, err := q.book.query(ctx, selectBlocks, string(list))
	if err != nil {
		return err
	}
	defer rows.Close()
	var reader numberReader
	for n := 0; rows.Next(); n++ {
		var id int64
		var data sql.RawBytes
		if err := rows.Scan(&id, &data); err != nil {
			return err
		}
		if data == nil && q.book.thinnedNow(ctx, id) {
			return q.book.refuse("read an envelope", ErrBusy, "block %d was thinned meanwhile; ask again", id)
		}
		if data == nil {
			return missingBlock(id, sql.ErrNoRows)
		}
		if n >= len(cut) || cut[n].id != id {
			return damage{fmt.Errorf("block %d is not the one that was asked for", id)}
		}
		if err := reader.addBlock(cells, q, cut[n], data); err != nil {
			return damagedBlock(q.series.tag, id, err)
		}
	}
	return rows.Err()
}
