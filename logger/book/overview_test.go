package book

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"soakline/device"
)

// longBook is a book with a series of more blocks than go into an overview, some of
// them late: floats of random digits make small blocks.
func longBook(t *testing.T, seed uint64) *Book {
	t.Helper()
	b := openNew(t)
	random := rand.New(rand.NewPCG(seed, 2))
	at := begin
	for range 30 {
		readings := make([]TaggedReading, 2500)
		for i := range readings {
			at = at.Add(time.Duration(random.Int64N(int64(time.Second))))
			readings[i] = TaggedReading{rail, device.Reading{Measure: rail.Measure, Value: random.NormFloat64(), At: at}}
		}
		write(t, b, readings...)
		if random.IntN(5) == 0 {
			at = at.Add(-20 * time.Minute)
		}
	}
	return b
}

// TestOverviewsTellAll compares charts of random times, for which blocks are found
// through overviews, with the readings one by one.
func TestOverviewsTellAll(t *testing.T) {
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	b, random := longBook(t, seed), rand.New(rand.NewPCG(seed, 3))
	if n := countRows(t, b.reading, "overview"); n < 1 {
		t.Fatalf("%d overviews: the blocks are too few", n)
	}
	if problems := checked(t, b); len(problems) > 0 {
		t.Errorf("book check: %v", problems)
	}
	all := readAll(t, b, Filter{})
	length := all[len(all)-1].At.Sub(all[0].At)
	for range 40 {
		since := all[0].At.Add(time.Duration(random.Int64N(int64(length)))).Truncate(time.Microsecond)
		filter := Filter{Since: since, Until: since.Add(time.Duration(random.Int64N(int64(length))) + time.Second)}
		want := summary{}
		for _, r := range all {
			if !r.At.Before(filter.Since) && r.At.Before(filter.Until) {
				want.add(summary{count: 1, low: r.Value, high: r.Value, sum: r.Value})
			}
		}
		envelopes, err := b.Envelopes(t.Context(), filter, 1+random.IntN(500))
		must(t, err)
		got := summary{}
		for _, bucket := range envelopes[0].Buckets {
			if bucket.Count > 0 {
				got.add(summary{count: bucket.Count, low: bucket.Low, high: bucket.High, sum: bucket.Mean * float64(bucket.Count)})
			}
		}
		if got.count != want.count || got.low != want.low || got.high != want.high || math.Abs(got.sum-want.sum) > 1e-6 {
			t.Fatalf("%v to %v: %v, want %v", filter.Since, filter.Until, got, want)
		}
	}
	overviews, err := b.Overviews(t.Context(), Filter{}, 50)
	must(t, err)
	var n int64
	for _, bucket := range overviews[0].Buckets {
		n += bucket.Count
	}
	if n != int64(len(all)) {
		t.Errorf("the overview is of %d readings, want %d", n, len(all))
	}
}

// TestCheckOfOverviews: what an overview says wrongly is found, and made anew.
func TestCheckOfOverviews(t *testing.T) {
	for _, test := range []struct{ name, damage, want string }{
		{"a summary", `UPDATE block SET high = high + 1 WHERE id = 5`, "does not say what the table of blocks says"},
		{"a bit", `UPDATE overview SET data = CAST(substr(data, 1, 700) || x'0102' || substr(data, 703) AS BLOB)`, "checksum"},
		{"cut short", `UPDATE overview SET data = x'00'`, "cut short"},
	} {
		t.Run(test.name, func(t *testing.T) {
			b := longBook(t, 1)
			before := exported(t, b)
			_, err := b.writing.ExecContext(t.Context(), test.damage)
			must(t, err)
			var said []string
			for _, p := range checked(t, b) {
				said = append(said, p.String())
			}
			if text := strings.Join(said, "\n"); !strings.Contains(text, "overview of series 1") || !strings.Contains(text, test.want) {
				t.Errorf("problems %q, want %q", text, test.want)
			}
			mended(t, b, before, true)
		})
	}
}
