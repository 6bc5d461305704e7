package book

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
)

// Imported counts what an import did.
type Imported struct {
	// Readings were put into the book; Known ones were there already.
	Readings, Known int64
	// PassedOver are lines that are no readings: excursions and verdicts belong to
	// a soak, which no line can make.
	PassedOver int64
}

// importChunk is how many readings of an import are in memory at once, and go into
// the book in one commit.
const importChunk = 20_000

// source gives the readings of a text one by one; io.EOF ends them. Its other
// errors name the line.
type source interface {
	next() (TaggedReading, error)
	// passedOver counts what was no reading.
	passedOver() int64
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
	var count Imported
	known, err := newKnown(ctx, b)
	if err != nil {
		return count, b.fail("import", err)
	}
	j := newJournal()
	var chunk []TaggedReading
	for ended := false; !ended; {
		r, err := from.next()
		ended = err != nil
		// Readings of one microsecond stay together, so that equal ones are counted.
		full := len(chunk) >= importChunk && r.At.UnixMicro() != chunk[len(chunk)-1].At.UnixMicro()
		if full || ended {
			if err := b.importSome(ctx, from, chunk, known, j, &count); err != nil {
				return count, b.fail("import", err)
			}
			chunk = chunk[:0]
			count.PassedOver = from.passedOver()
			if progress != nil {
				progress(count)
			}
		}
		if ended && !errors.Is(err, io.EOF) {
			return count, b.refuse("import", ErrInvalid, "%v", err)
		}
		chunk = append(chunk, r)
	}
	return count, nil
}

// importSome adds what is new in a chunk.
func (b *Book) importSome(ctx context.Context, from source, chunk []TaggedReading, known *known, j *journal, count *Imported) error {
	fresh, err := known.without(ctx, from, chunk)
	if err != nil {
		return err
	}
	count.Known += int64(len(chunk) - len(fresh))
	if len(fresh) == 0 {
		return nil
	}
	out, err := b.store(ctx, &batch{readings: fresh}, j)
	if err != nil {
		return err
	}
	if len(out.refused) > 0 {
		return out.refused[0]
	}
	count.Readings += int64(len(fresh))
	return nil
}

// known is what was in the book when an import began.
type known struct {
	book   *Book
	series map[Tag]series
	shot   snapshot
	// thinned are the times of each series of which envelopes are left.
	thinned map[Tag][]span
}

// wasThinned tells whether a reading is of a time of which the book had all readings
// once: they are in its envelopes.
func (k *known) wasThinned(r *TaggedReading) bool {
	at := r.At.UnixMicro()
	return slices.ContainsFunc(k.thinned[r.Tag], func(s span) bool { return at >= s.from && at < s.until })
}

func newKnown(ctx context.Context, b *Book) (*known, error) {
	all, err := b.series(ctx, Filter{})
	if err != nil {
		return nil, err
	}
	k := &known{book: b, series: make(map[Tag]series, len(all)), thinned: make(map[Tag][]span)}
	for _, s := range all {
		k.series[s.tag] = s
		if k.thinned[s.tag], err = b.thinnedSpans(ctx, s.id); err != nil {
			return nil, err
		}
	}
	k.shot, err = b.snapshot(ctx, all, everything)
	return k, err
}

// without returns those of a chunk that were not in the book, as often as they are
// more than there.
func (k *known) without(ctx context.Context, from source, chunk []TaggedReading) ([]TaggedReading, error) {
	spans := make(map[Tag]span)
	for i := range chunk {
		at := chunk[i].At.UnixMicro()
		s, ok := spans[chunk[i].Tag]
		if !ok {
			s = span{at, at + 1}
		}
		spans[chunk[i].Tag] = span{min(s.from, at), max(s.until, at+1)}
	}
	there := make(map[Tag]map[figureKey]int, len(spans))
	for tag, within := range spans {
		figures, err := k.figures(ctx, from, tag, within)
		if err != nil {
			return nil, err
		}
		there[tag] = figures
	}
	var fresh []TaggedReading
	for i := range chunk {
		if k.wasThinned(&chunk[i]) {
			continue
		}
		f, err := toFigure(&chunk[i].Reading)
		if err != nil {
			return nil, fmt.Errorf("reading at %v: %w", chunk[i].At, err)
		}
		key := from.key(&f)
		if counts := there[chunk[i].Tag]; counts[key] > 0 {
			counts[key]--
			continue
		}
		fresh = append(fresh, chunk[i])
	}
	return fresh, nil
}

// figures counts what a series has within a span.
func (k *known) figures(ctx context.Context, from source, tag Tag, within span) (map[figureKey]int, error) {
	s, ok := k.series[tag]
	if !ok {
		return nil, nil
	}
	shot := snapshot{upTo: k.shot.upTo, tails: map[int64][]figure{s.id: within.of(k.shot.tails[s.id])}}
	reader := newSeriesReader(k.book, s, within, shot, &blockReader{})
	counts := make(map[figureKey]int)
	for {
		head, err := reader.head(ctx)
		if err != nil || head == nil {
			return counts, err
		}
		counts[from.key(head)]++
		reader.take()
	}
}
