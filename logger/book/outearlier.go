package book

import (
	"context"
	"database/sql"
)

// arrivedBefore counts, by time, the readings of a series in blocks that were
// written before a block and reach into its time.
func (b *Book) arrivedBefore(ctx context.Context, s series, late outBlock) (map[int64]int64, error) {
	const query = `SELECT id FROM block WHERE series = ? AND id < ? AND first_us <= ? AND last_us >= ?`
	ids, err := collect(ctx, b, "ship", query, []any{s.id, late.id, late.last, late.first},
		func(rows *sql.Rows) (int64, error) { return scanInt(rows) })
	if err != nil {
		return nil, err
	}
	counts := make(map[int64]int64)
	var decoder blockReader
	var figures []figure
	for _, id := range ids {
		data, err := b.blockData(ctx, id)
		if err != nil {
			return nil, err
		}
		if figures, err = decoder.readBlock(figures[:0], s.id, data); err != nil {
			return nil, damagedBlock(s.tag, id, err)
		}
		for i := range figures {
			counts[figures[i].at]++
		}
	}
	return counts, nil
}

// moreBlocks lists further blocks.
func (s *outSeries) moreBlocks(ctx context.Context, b *Book) error {
	return s.listBlocks(ctx, b.reading)
}
