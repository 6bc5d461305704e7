package book

import (
	"context"
	"crypto/rand"
	"database/sql"
	"slices"
)

// ownTag is a tag of the other book as it is here.
func (m *bookImport) ownTag(t Tag) Tag {
	t.Unit = m.own(t.Unit)
	return t
}

// importedSeries is a series on its way into this book.
type importedSeries struct {
	theirs, ours *seriesReader
	tag          Tag
	here         bool   // it is in this book already
	ownID        int64  // its number here, where it is
	thinned      []span // of which this book has only envelopes, and the other one all
	fresh        []figure
	some         bool // something of it was new
}

// readings takes over the readings of all series, one after the other.
func (m *bookImport) readings(ctx context.Context) error {
	theirs, err := m.from.series(ctx, Filter{})
	if err != nil {
		return err
	}
	total, err := m.from.Count(ctx, Filter{})
	if err != nil {
		return err
	}
	shot, err := m.from.snapshot(ctx, theirs, everything)
	if err != nil {
		return m.from.fail("read readings", err)
	}
	own, err := m.into.series(ctx, Filter{})
	if err != nil {
		return err
	}
	ownShot, err := m.into.snapshot(ctx, own, everything)
	if err != nil {
		return err
	}
	numbers := make(map[Tag]int64, len(own))
	for _, s := range own {
		numbers[s.tag] = s.id
	}
	var decoder, ownDecoder blockReader
	for _, s := range theirs {
		one := importedSeries{tag: m.ownTag(s.tag), theirs: newSeriesReader(m.from, s, everything, shot, &decoder)}
		one.ownID, one.here = numbers[one.tag]
		one.ours = newSeriesReader(m.into, series{one.ownID, one.tag}, everything, ownShot, &ownDecoder)
		if err := m.series(ctx, s, &one, total); err != nil {
			return err
		}
		delete(shot.tails, s.id)
	}
	return nil
}

// series takes over what is new in a series, and what is left of its thinned blocks.
func (m *bookImport) series(ctx context.Context, s series, one *importedSeries, total int64) (err error) {
	if one.here {
		if one.thinned, err = m.thinnedHereOnly(ctx, s.id, one.ownID); err != nil {
			return err
		}
	}
	var theirs, ours []figure
	for {
		if theirs, err = moment(ctx, one.theirs, theirs[:0], nil); err != nil {
			return m.from.fail("read readings", err)
		}
		if len(theirs) == 0 {
			break
		}
		if ours, err = moment(ctx, one.ours, ours[:0], &theirs[0].at); err != nil {
			return err
		}
		one.add(theirs, ours)
		m.done.Known += int64(len(theirs))
		if len(one.fresh) < importChunk {
			continue
		}
		if err := m.commit(ctx, one, false); err != nil {
			return err
		}
		if m.progress != nil {
			m.progress(m.done.Known+m.done.Readings, total)
		}
	}
	if err := m.commit(ctx, one, true); err != nil {
		return err
	}
	return m.thinnedBlocks(ctx, s, one)
}

// moment takes the figures of the next microsecond, or those of the given one, what
// is before it passed over.
func moment(ctx context.Context, r *seriesReader, figures []figure, at *int64) ([]figure, error) {
	for {
		head, err := r.head(ctx)
		switch {
		case err != nil:
			return figures, err
		case head == nil, at != nil && head.at > *at, at == nil && len(figures) > 0 && head.at != figures[0].at:
			return figures, nil
		case at == nil || head.at == *at:
			figures = append(figures, *head)
		}
		r.take()
	}
}

// add keeps those of one microsecond that this book has not, as often as they are
// more than here.
func (s *importedSeries) add(theirs, ours []figure) {
	at := theirs[0].at
	if slices.ContainsFunc(s.thinned, func(within span) bool { return at >= within.from && at < within.until }) {
		return
	}
	for _, f := range theirs {
		if i := slices.Index(ours, f); i >= 0 {
			ours = slices.Delete(ours, i, i+1)
			continue
		}
		s.fresh = append(s.fresh, f)
	}
}

// commit writes what is new of a series. The last of it goes into a block as well,
// full or not: what is in none is kept in memory by every writer.
func (m *bookImport) commit(ctx context.Context, one *importedSeries, last bool) error {
	if len(one.fresh) == 0 && !(last && one.some) {
		return nil
	}
	one.some = true
	err := m.into.write(ctx, m.doing, func(tx *sql.Tx) error { return m.write(context.WithoutCancel(ctx), tx, one, last) })
	if err != nil {
		m.journal.forget() // it holds what was not committed
		return err
	}
	m.done.Readings += int64(len(one.fresh))
	m.done.Known -= int64(len(one.fresh))
	one.fresh = one.fresh[:0]
	return nil
}

func (m *bookImport) write(ctx context.Context, tx *sql.Tx, one *importedSeries, last bool) error {
	if err := m.journal.load(ctx, tx); err != nil {
		return err
	}
	open, err := m.journal.open(ctx, tx, &one.tag)
	if err != nil {
		return err
	}
	for _, f := range one.fresh {
		open.add(f)
	}
	if last {
		if err := m.journal.sealAll(ctx, tx, open); err != nil {
			return err
		}
	}
	mark := make([]byte, 16)
	_, _ = rand.Read(mark) // never fails, by its contract
	return m.journal.write(ctx, tx, mark)
}

// sealAll puts all of a series that is in no block into blocks, and gives the memory
// back that it took.
func (j *journal) sealAll(ctx context.Context, tx *sql.Tx, open *openSeries) error {
	in, err := newBlockInserter(ctx, tx)
	if err != nil {
		return err
	}
	open.touched = true
	if err := j.seal(ctx, in, open, true); err != nil {
		return err
	}
	open.figures = nil
	if open.left < inOverview {
		return nil
	}
	open.left, err = overview(ctx, tx, open.id)
	return err
}
