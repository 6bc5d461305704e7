package book

import (
	"context"

	"slices"
)

// Last returns the newest reading of each series that matches a filter, in the
// order of the tags; a series without one in the filter's time is left out.
func (b *Book) Last(ctx context.Context, filter Filter) ([]TaggedReading, error) {
	found, within, err := b.scope(ctx, filter)
	if err != nil {
		return nil, err
	}
	shot, err := b.snapshot(ctx, found, within)
	if err != nil {
		return nil, b.fail("read last value", err)
	}
	var last []TaggedReading
	var decoder blockReader
	for _, s := range found {
		newest, err := b.lastOf(ctx, s, within, shot, &decoder)
		if err != nil {
			return nil, b.fail("read last value", err)
		}
		if newest != nil {
			last = append(last, TaggedReading{s.tag, newest.reading(s.tag.Measure)})
		}
	}
	return last, nil
}

// lastOf goes back through the blocks until no earlier one can hold a later
// reading.
func (b *Book) lastOf(ctx context.Context, s series, within span, shot snapshot, decoder *blockReader) (*figure, error) {
	const before = `SELECT id, first_us, last_us FROM block WHERE series = ?1 AND late = 0 AND first_us < ?2 AND id <= ?3
		ORDER BY first_us DESC LIMIT 2`
	const late = `SELECT id, first_us, last_us FROM block INDEXED BY block_late WHERE series = ?1 AND late = 1 AND first_us < ?2 AND id <= ?3`
	var newest *figure
	if tail := shot.tails[s.id]; len(tail) > 0 {
		newest = &tail[len(tail)-1]
	}
	var candidates []blockRef
	for _, query := range []string{before, late} {
		some, err := collect(ctx, b, "read last value", query, []any{s.id, within.until, shot.upTo[s.id]}, scanRef)
		if err != nil {
			return nil, err
		}
		candidates = append(candidates, some...)
	}
	slices.SortFunc(candidates, func(a, b blockRef) int { return compareInt(b.id, a.id) })
	for _, ref := range candidates {
		if ref.last < within.from || newest != nil && newest.at >= min(ref.last, within.until-1) {
			continue
		}
		data, err := b.blockData(ctx, ref.id)
		if err != nil {
			return nil, err
		}
		figures, err := decoder.readBlock(nil, s.id, data)
		if err != nil {
			return nil, damagedBlock(s.tag, ref.id, err)
		}
		if figures = within.of(figures); len(figures) > 0 && (newest == nil || figures[len(figures)-1].at > newest.at) {
			newest = &figures[len(figures)-1]
		}
	}
	return newest, nil
}

// Count returns how many readings match a filter.
func (b *Book) Count(ctx context.Context, filter Filter) (int64, error) {
	found, within, err := b.scope(ctx, filter)
	if err != nil {
		return 0, err
	}
	shot, err := b.snapshot(ctx, found, within)
	if err != nil {
		return 0, b.fail("count readings", err)
	}
	var total int64
	for _, s := range found {
		n, err := b.countOf(ctx, s, within, shot)
		if err != nil {
			return 0, b.fail("count readings", err)
		}
		total += n + int64(len(shot.tails[s.id]))
	}
	return total, nil
}

// countOf adds up the blocks that lie within the span, and reads those that cross
// its ends.
func (b *Book) countOf(ctx context.Context, s series, within span, shot snapshot) (int64, error) {
	const inside = `SELECT coalesce(sum(count), 0) FROM block WHERE series = ? AND first_us >= ? AND last_us < ? AND first_us < ? AND id <= ?`
	const crossing = `SELECT id, first_us, last_us FROM block WHERE series = ?1 AND id <= ?4
		AND first_us < ?3 AND last_us >= ?2 AND (first_us < ?2 OR last_us >= ?3)`
	var total int64
	if err := b.queryOne(ctx, inside, []any{s.id, within.from, within.until, within.until, shot.upTo[s.id]}, []any{&total}); err != nil {
		return 0, err
	}
	refs, err := collect(ctx, b, "count readings", crossing, []any{s.id, within.from, within.until, shot.upTo[s.id]}, scanRef)
	if err != nil {
		return 0, err
	}
	var decoder blockReader
	for _, ref := range refs {
		data, err := b.blockData(ctx, ref.id)
		if err != nil {
			return 0, err
		}
		figures, err := decoder.readBlock(nil, s.id, data)
		if err != nil {
			return 0, damagedBlock(s.tag, ref.id, err)
		}
		total += int64(len(within.of(figures)))
	}
	return total, nil
}
