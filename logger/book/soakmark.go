package book

import (
	"context"
	"fmt"
	"strings"
)

// SoakMark is a mark of what the record of a soak rests on: while it is the same,
// Record gives the same. It counts and does not read what is in the blocks.
func (b *Book) SoakMark(ctx context.Context, id SoakID) (string, error) {
	const blocks = `SELECT count(*), coalesce(sum(count), 0), coalesce(max(id), 0) FROM block WHERE series = ?1 AND first_us < ?3 AND last_us >= ?2`
	soak, err := b.Soak(ctx, id)
	if err != nil {
		return "", err
	}
	losses, err := b.Losses(ctx, Filter{Soak: id})
	if err != nil {
		return "", err
	}
	pauses, err := b.Pauses(ctx, id)
	if err != nil {
		return "", err
	}
	found, within, err := b.scope(ctx, Filter{Soak: id})
	if err != nil {
		return "", err
	}
	shot, err := b.snapshot(ctx, found, within)
	if err != nil {
		return "", b.fail("look at what a soak rests on", err)
	}
	var mark strings.Builder
	fmt.Fprintln(&mark, soak.Unit, soak.Begin.UnixMicro(), soak.End.UnixMicro(), soak.Planned, soak.State, soak.Reason, soak.Instruments, losses, pauses)
	for _, s := range found {
		var count, readings, newest int64
		if err := b.queryOne(ctx, blocks, []any{s.id, within.from, within.until}, []any{&count, &readings, &newest}); err != nil {
			return "", b.fail("look at what a soak rests on", err)
		}
		fmt.Fprintln(&mark, s.id, count, readings, newest, len(shot.tails[s.id]))
	}
	return mark.String(), nil
}
