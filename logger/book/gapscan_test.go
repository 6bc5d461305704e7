package book

import (
	"errors"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// gapsOf looks at every reading: what FindGaps must give.
func gapsOf(t *testing.T, b *Book, filter Filter, longer time.Duration) (gaps []SeriesGap) {
	t.Helper()
	tags, err := b.Tags(t.Context(), filter)
	must(t, err)
	for _, tag := range tags {
		of := filter
		of.Bench, of.Console, of.Unit, of.TestPoint, of.Instrument, of.Measure = tag.Bench, tag.Console, tag.Unit, tag.TestPoint, tag.Instrument, tag.Measure
		last, some := filter.Since, false
		next := func(at time.Time) {
			if !last.IsZero() && at.Sub(last) > longer {
				gaps = append(gaps, SeriesGap{tag, last, at})
			}
			last = at
		}
		for _, r := range readAll(t, b, of) {
			next(r.At)
			some = true
		}
		if some && !filter.Until.IsZero() {
			next(filter.Until)
		}
		if !some {
			continue
		}
	}
	return gaps
}

// gapBook is a bench for an hour with holes in it: all instruments silent, one of them,
// and a clock that goes back, so that blocks overlap.
func gapBook(t *testing.T, random *rand.Rand) *Book {
	t.Helper()
	b := openNew(t)
	w, j := newWorkload(random.Uint64()), newJournal()
	for range 60 {
		readings := w.read(perSecond * 60)
		switch random.IntN(4) {
		case 0:
			w.timeUTC = w.timeUTC.Add(time.Duration(random.Int64N(int64(5 * time.Minute))))
		case 1:
			silent := w.points[random.IntN(16)].tag
			kept := readings[:0]
			for _, r := range readings {
				if r.Tag != silent {
					kept = append(kept, r)
				}
			}
			readings = kept
		case 2:
			if random.IntN(4) == 0 {
				w.timeUTC = w.timeUTC.Add(-time.Duration(random.Int64N(int64(2 * time.Minute))))
			}
		}
		_, err := b.store(t.Context(), &batch{readings: readings}, j)
		must(t, err)
	}
	return b
}

// TestFindGapsAgainstEachReading: gaps of many lengths, with and without bounds.
func TestFindGapsAgainstEachReading(t *testing.T) {
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	random := rand.New(rand.NewPCG(seed, 0))
	b := gapBook(t, random)
	some := 0
	for range 12 {
		filter := Filter{TestPoint: newWorkload(1).points[random.IntN(16)].tag.TestPoint}
		if random.IntN(2) == 0 {
			filter.Since = begin.Add(time.Duration(random.Int64N(int64(time.Hour)))).Truncate(time.Microsecond)
			filter.Until = filter.Since.Add(time.Duration(random.Int64N(int64(time.Hour)))).Truncate(time.Microsecond)
		}
		longer := time.Duration(1+random.Int64N(int64(3*time.Minute))) / time.Duration(1+random.IntN(1000))
		longer = longer.Truncate(time.Microsecond) + time.Microsecond
		got, err := b.FindGaps(t.Context(), filter, longer)
		want := gapsOf(t, b, filter, longer)
		if diff := cmp.Diff(want, got); err != nil || diff != "" {
			t.Fatalf("%+v, longer than %v: %v%s", filter, longer, err, diff)
		}
		some += len(got)
	}
	if some == 0 {
		t.Error("no gap at all: the test says nothing")
	}
}

// TestFindGapsDecodesLittle: where no block spans more than the time, none is decoded,
// and else each block once.
func TestFindGapsDecodesLittle(t *testing.T) {
	b := openNew(t)
	readings := newWorkload(1).read(16 * 20_000)
	var mine []TaggedReading
	for i := 3; i < len(readings); i += 16 {
		if n := i / 16; n < 7000 || n >= 8000 { // 100 s without
			mine = append(mine, readings[i])
		}
	}
	write(t, b, mine...)
	found, within, err := b.scope(t.Context(), Filter{})
	must(t, err)
	shot, err := b.snapshot(t.Context(), found, within)
	must(t, err)
	blocks := countRows(t, b.reading, "block")
	for _, test := range []struct {
		longer      time.Duration
		gaps, least int
	}{{time.Hour, 0, 0}, {101 * time.Second, 0, 0}, {5 * time.Second, 1, blocks}, {150 * time.Millisecond, 1, blocks}} {
		scan := gapScan{book: b, series: found[0], within: within, shot: shot, longer: test.longer.Microseconds()}
		must(t, scan.run(t.Context()))
		if len(scan.gaps) != test.gaps || scan.decoded < test.least || scan.decoded > blocks || test.longer == time.Hour && scan.decoded > 0 {
			t.Errorf("longer than %v: %d gaps, %d of %d blocks decoded", test.longer, len(scan.gaps), scan.decoded, blocks)
		}
	}
}

// TestFindGapsOfASoak: begin and end of a soak are ends of gaps; exactly as long as the
// time is no gap; what was thinned is covered.
func TestFindGapsOfASoak(t *testing.T) {
	b, id := soaked(t)
	ctx := t.Context()
	other := rail
	other.TestPoint = "composite"
	write(t, b, digits(t, rail, -time.Hour, "5"), digits(t, rail, 10*time.Second, "5"), digits(t, rail, 70*time.Second, "5"),
		digits(t, rail, 131*time.Second, "5"), digits(t, other, -time.Minute, "1"))
	must(t, b.EndSoak(ctx, id, SoakEnded, begin.Add(10*time.Minute), ""))
	end := begin.Add(10*time.Minute + time.Microsecond) // a soak's last microsecond is part of it
	want := []SeriesGap{
		{rail, begin.Add(70 * time.Second), begin.Add(131 * time.Second)},
		{rail, begin.Add(131 * time.Second), end},
	}
	got, err := b.FindGaps(ctx, Filter{Soak: id}, time.Minute)
	if diff := cmp.Diff(want, got); err != nil || diff != "" {
		t.Error(err, diff)
	}
	got, err = b.FindGaps(ctx, Filter{Soak: id}, 9*time.Second)
	if err != nil || len(got) != 4 || !got[0].From.Equal(begin) || !got[0].To.Equal(begin.Add(10*time.Second)) {
		t.Errorf("%+v (%v)", got, err)
	}
	_, err = b.writing.ExecContext(ctx, `INSERT INTO thinned (series, first_us, id, last_us, count, data) VALUES ((SELECT id FROM series WHERE test_point = 'rail-5v'), ?, 99, ?, 1, x'')`,
		begin.Add(100*time.Second).UnixMicro(), begin.Add(8*time.Minute).UnixMicro())
	must(t, err)
	got, err = b.FindGaps(ctx, Filter{Soak: id}, time.Minute)
	if diff := cmp.Diff([]SeriesGap{{rail, begin.Add(8 * time.Minute), end}}, got); err != nil || diff != "" {
		t.Error(err, diff)
	}
	if _, err := b.FindGaps(ctx, Filter{}, 0); !errors.Is(err, ErrInvalid) {
		t.Errorf("of no length: %v", err)
	}
	if _, err := b.FindGaps(ctx, Filter{Soak: 99}, time.Second); !errors.Is(err, ErrNotFound) {
		t.Errorf("an unknown soak: %v", err)
	}
}
