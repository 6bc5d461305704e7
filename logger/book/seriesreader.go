package book

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
)

// cursor walks through the figures of one block, or of the tail.
type cursor struct {
	figures []figure
	next    int
	seq     int64 // the block's id: of one microsecond the earlier written is first
}

func (c *cursor) at() int64 { return c.figures[c.next].at }

func (c *cursor) before(other *cursor) bool {
	if c.at() != other.at() {
		return c.at() < other.at()
	}
	return c.seq < other.seq
}

// seriesReader gives a series' figures in time order, block by block, so that no
// read transaction stays open while the caller thinks. Blocks overlap only where a
// clock went back; then more than one is open.
type seriesReader struct {
	book    *Book
	series  series
	shown   Tag // with visible names
	within  span
	refs    refs
	open    []*cursor
	first   *cursor // of those open, the one whose figure is next
	decoder *blockReader
	spare   []figure
}

func newSeriesReader(b *Book, s series, within span, shot snapshot, decoder *blockReader) *seriesReader {
	r := &seriesReader{book: b, series: s, shown: s.tag.visible(), within: within, decoder: decoder}
	r.refs = refs{series: s.id, within: within, upTo: shot.upTo[s.id]}
	if tail := shot.tails[s.id]; len(tail) > 0 {
		r.open = append(r.open, &cursor{figures: tail, seq: tailSeq})
	}
	return r
}

// head returns the next figure without taking it; nil at the end.
func (r *seriesReader) head(ctx context.Context) (*figure, error) {
	for {
		if r.first == nil {
			r.choose()
		}
		ref, err := r.refs.peek(ctx, r.book)
		if err != nil {
			return nil, err
		}
		if ref == nil || r.first != nil && r.first.at() < ref.first {
			break
		}
		if err := r.openBlock(ctx, *ref); err != nil {
			return nil, err
		}
		r.refs.take()
	}
	if r.first == nil {
		return nil, nil
	}
	return &r.first.figures[r.first.next], nil
}

// take goes on to the figure after the head.
func (r *seriesReader) take() {
	r.first.next++
	if r.first.next == len(r.first.figures) {
		for i, c := range r.open {
			if c == r.first {
				r.open = append(r.open[:i], r.open[i+1:]...)
				break
			}
		}
		if r.first.seq != tailSeq {
			r.spare = r.first.figures[:0]
		}
		r.first = nil
		return
	}
	if len(r.open) > 1 {
		r.first = nil
	}
}

func (r *seriesReader) choose() {
	for _, c := range r.open {
		if r.first == nil || c.before(r.first) {
			r.first = c
		}
	}
}

func (r *seriesReader) openBlock(ctx context.Context, ref blockRef) error {
	data, err := r.book.blockData(ctx, ref.id)
	if err != nil {
		return err
	}
	figures, err := r.decoder.readBlock(r.spare[:0], r.series.id, data)
	r.spare = nil
	if err != nil {
		return damagedBlock(r.series.tag, ref.id, err)
	}
	if figures = r.within.of(figures); len(figures) > 0 {
		r.open = append(r.open, &cursor{figures: figures, seq: ref.id})
		r.first = nil
	}
	return nil
}

// readBlock checks the sum of a series' block and reads it.
func (r *blockReader) readBlock(to []figure, series int64, data []byte) ([]figure, error) {
	body, err := cutSum(data)
	if err != nil {
		return to, err
	}
	figures, err := r.figures(to, body)
	if err == nil && r.series != series {
		err = fmt.Errorf("it is of series %d", r.series)
	}
	return figures, err
}

func damagedBlock(tag Tag, id int64, err error) error {
	return damage{fmt.Errorf("block %d of %s %s of %s: %w", id, tag.TestPoint, tag.Measure, tag.Unit, err)}
}

// blockData reads a block as it was written.
func (b *Book) blockData(ctx context.Context, id int64) ([]byte, error) {
	var data []byte
	err := b.queryOne(ctx, `SELECT data FROM block_data WHERE id = ?`, []any{id}, []any{&data})
	if errors.Is(err, sql.ErrNoRows) && b.thinnedNow(ctx, id) {
		return nil, b.refuse("read readings", ErrBusy, "block %d was thinned meanwhile; ask again", id)
	}
	return data, missingBlock(id, err)
}

// thinnedNow tells whether a block that is not there was thinned.
func (b *Book) thinnedNow(ctx context.Context, id int64) bool {
	var n int
	err := b.queryOne(ctx, `SELECT count(*) FROM thinned WHERE id = ?`, []any{id}, []any{&n})
	return err == nil && n > 0
}

// missingBlock says which block is not there.
func missingBlock(id int64, err error) error {
	if errors.Is(err, sql.ErrNoRows) {
		return damage{fmt.Errorf("block %d is missing", id)}
	}
	return err
}
