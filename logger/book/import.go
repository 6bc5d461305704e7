package book

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"slices"
)

// Imported counts what an import did.
type Imported struct {
	// Readings were put into the book; Known ones were there already.
	Readings, Known int64
	// Others are the excursions and verdicts among the lines that were put into the
	// book, which gives them again when it is exported, KnownOthers those that were
	// there already. They are no excursions and verdicts of this book: a soak cannot be
	// made of lines.
	Others, KnownOthers int64
}

// importChunk is how many readings of an import are in memory at once, and go into
// the book in one commit; otherChunk the same of other lines.
const (
	importChunk = 20_000
	otherChunk  = 1_000
)

// entry is one of a text: a reading, or another line if that is not nil.
type entry struct {
	reading TaggedReading
	other   *otherLine
}

// source gives the entries of a text one by one; io.EOF ends them. Its other errors
// name the line.
type source interface {
	next() (entry, error)
	// key is as much of a figure as the text tells: a float and the digits that
	// give it are the same to both, and line protocol has no uncertainty.
	key(f *figure) figureKey
}

// figureKey tells figures of a series apart.
type figureKey struct {
	at       int64
	value, u uint64 // bits: minus zero is another figure
}

// ImportLines reads line protocol as ExportLines writes it, nanoseconds included,
// and adds the readings that are not in the book yet: importing twice changes
// nothing. The digits that an instrument sent and the uncertainty are not in line
// protocol; CSV has them. Progress, if not nil, is told after each commit. An error
// names the line; what was before it is in the book.
func (b *Book) ImportLines(ctx context.Context, r io.Reader, progress func(Imported)) (Imported, error) {
	return b.importFrom(ctx, newLineSource(r), progress)
}

// ImportCSV reads CSV as ExportCSV writes it; see ImportLines. A value with a lower
// case exponent, as floats are written, becomes a computed figure, all others the
// digits of an instrument.
func (b *Book) ImportCSV(ctx context.Context, r io.Reader, progress func(Imported)) (Imported, error) {
	return b.importFrom(ctx, newCSVSource(r), progress)
}

func (b *Book) importFrom(ctx context.Context, from source, progress func(Imported)) (Imported, error) {
	known, err := newKnown(ctx, b)
	if err != nil {
		return Imported{}, b.fail("import", err)
	}
	im := &importing{book: b, from: from, known: known, journal: newJournal()}
	for {
		one, err := from.next()
		ended := err != nil
		if err := im.makeRoom(ctx, &one, ended, progress); err != nil {
			return im.count, b.fail("import", err)
		}
		switch {
		case errors.Is(err, io.EOF):
			return im.count, nil
		case ended:
			return im.count, b.refuse("import", ErrInvalid, "%v", err)
		case one.other != nil:
			im.others = append(im.others, one.other)
		default:
			im.readings = append(im.readings, one.reading)
		}
	}
}

// importing is an import under way, with what goes into the book next.
type importing struct {
	book     *Book
	from     source
	known    *known
	journal  *journal
	readings []TaggedReading
	others   []*otherLine
	count    Imported
}

// makeRoom commits what must not wait for the next entry. Readings of one microsecond
// stay together, so that equal ones are counted.
func (im *importing) makeRoom(ctx context.Context, next *entry, ended bool, progress func(Imported)) error {
	n := len(im.readings)
	readings := ended || next.other == nil && n >= importChunk && next.reading.At.UnixMicro() != im.readings[n-1].At.UnixMicro()
	others := ended || len(im.others) >= otherChunk
	if readings {
		if err := im.putReadings(ctx); err != nil {
			return err
		}
	}
	if others {
		if err := im.putOthers(ctx); err != nil {
			return err
		}
	}
	if (readings || others) && progress != nil {
		progress(im.count)
	}
	return nil
}

// putReadings adds those that are new.
func (im *importing) putReadings(ctx context.Context) error {
	fresh, err := im.known.without(ctx, im.from, im.readings)
	if err != nil {
		return err
	}
	if err := im.store(ctx, &batch{readings: fresh}); err != nil {
		return err
	}
	im.count.Readings += int64(len(fresh))
	im.count.Known += int64(len(im.readings) - len(fresh))
	im.readings = im.readings[:0]
	return nil
}

// putOthers adds those that are new.
func (im *importing) putOthers(ctx context.Context) error {
	var bt batch
	var kept int64
	for _, l := range im.others {
		bt.notes = append(bt.notes, note{l.kind + " of another book", func(ctx context.Context, tx *sql.Tx) error { return l.write(ctx, tx, &kept) }})
	}
	if err := im.store(ctx, &bt); err != nil {
		return err
	}
	im.count.Others += kept
	im.count.KnownOthers += int64(len(im.others)) - kept
	im.others = im.others[:0]
	return nil
}

func (im *importing) store(ctx context.Context, bt *batch) error {
	if bt.empty() {
		return nil
	}
	out, err := im.book.store(ctx, bt, im.journal)
	if err == nil && len(out.refused) > 0 {
		return out.refused[0]
	}
	return err
}

// known is what was in the book when an import began, by tags with visible names: a text
// has no others.
type known struct {
	book   *Book
	series map[Tag][]series
	shot   snapshot
	// thinned are the times of each series of which envelopes are left.
	thinned map[Tag][]span
}

// wasThinned tells whether a reading is of a time of which the book had all readings
// once: they are in its envelopes.
func (k *known) wasThinned(shown Tag, r *TaggedReading) bool {
	at := r.At.UnixMicro()
	return slices.ContainsFunc(k.thinned[shown], func(s span) bool { return at >= s.from && at < s.until })
}

func newKnown(ctx context.Context, b *Book) (*known, error) {
	all, err := b.series(ctx, Filter{})
	if err != nil {
		return nil, err
	}
	k := &known{book: b, series: make(map[Tag][]series, len(all)), thinned: make(map[Tag][]span)}
	for _, s := range all {
		shown := s.tag.visible()
		k.series[shown] = append(k.series[shown], s)
		spans, err := b.thinnedSpans(ctx, s.id)
		if err != nil {
			return nil, err
		}
		k.thinned[shown] = append(k.thinned[shown], spans...)
	}
	k.shot, err = b.snapshot(ctx, all, everything)
	return k, err
}

// shownSpan is from when to when there are readings of a tag, and its visible names.
type shownSpan struct {
	span
	shown Tag
}

// without returns those of a chunk that were not in the book, as often as they are
// more than there.
func (k *known) without(ctx context.Context, from source, chunk []TaggedReading) ([]TaggedReading, error) {
	spans, within := make(map[Tag]shownSpan), make(map[Tag]span)
	for i := range chunk {
		at := chunk[i].At.UnixMicro()
		s, ok := spans[chunk[i].Tag]
		if !ok {
			s = shownSpan{span{at, at + 1}, chunk[i].Tag.visible()}
		}
		spans[chunk[i].Tag] = shownSpan{span{min(s.from, at), max(s.until, at+1)}, s.shown}
	}
	for _, s := range spans {
		if other, ok := within[s.shown]; ok {
			s.from, s.until = min(s.from, other.from), max(s.until, other.until)
		}
		within[s.shown] = s.span
	}
	there := make(map[Tag]map[figureKey]int, len(within))
	for shown, s := range within {
		figures, err := k.figures(ctx, from, shown, s)
		if err != nil {
			return nil, err
		}
		there[shown] = figures
	}
	var fresh []TaggedReading
	for i := range chunk {
		shown := spans[chunk[i].Tag].shown
		if k.wasThinned(shown, &chunk[i]) {
			continue
		}
		f, err := toFigure(&chunk[i].Reading)
		if err != nil {
			return nil, fmt.Errorf("reading at %v: %w", chunk[i].At, err)
		}
		key := from.key(&f)
		if counts := there[shown]; counts[key] > 0 {
			counts[key]--
			continue
		}
		fresh = append(fresh, chunk[i])
	}
	return fresh, nil
}

// figures counts what the series of a visible tag have within a span.
func (k *known) figures(ctx context.Context, from source, shown Tag, within span) (map[figureKey]int, error) {
	counts := make(map[figureKey]int)
	for _, s := range k.series[shown] {
		shot := snapshot{upTo: k.shot.upTo, tails: map[int64][]figure{s.id: within.of(k.shot.tails[s.id])}}
		reader := newSeriesReader(k.book, s, within, shot, &blockReader{})
		for {
			head, err := reader.head(ctx)
			if err != nil {
				return nil, err
			}
			if head == nil {
				break
			}
			counts[from.key(head)]++
			reader.take()
		}
	}
	return counts, nil
}
