//go:build unix

package main

import (
	"slices"
	"testing"
)

// ageBin is the width of the bins in which ages are counted.
const ageBin stamp = 250 // µs

// ages counts, by how long before a scrape an answer was given, how many of those were
// in it.
type ages struct{ seen, of []int }

// tellLatency tells how long after its last byte a reading is visible. For each scrape
// and instrument the last few answers before it have an age, and are in it, or a later
// one of the same instrument is, or not: the share that is, by age, is the distribution
// of the delay. The age counts from the moment in the answer, which is before its first
// byte is written, to the moment before the scrape is sent, so that what the scrape
// itself takes is not in it, and is told beside.
func tellLatency(t *testing.T, scrapes []scrape, given map[string][]stamp) {
	t.Helper()
	const longest = 200 * 1000 / ageBin // 200 ms
	a := ages{seen: make([]int, longest), of: make([]int, longest)}
	var took []stamp
	for _, s := range scrapes {
		took = append(took, s.answered-s.asked)
		for name, shown := range s.shown {
			a.count(given[name], s.asked, shown)
		}
	}
	slices.Sort(took)
	t.Logf("a scrape of %d instruments took %.1f ms, 99 of 100 no more than %.1f ms", len(given),
		ms(took[len(took)/2]), ms(took[len(took)*99/100]))
	share := a.rising()
	for _, part := range []float64{0.5, 0.9, 0.99, 0.999} {
		at := slices.IndexFunc(share, func(f float64) bool { return f >= part })
		if at < 0 {
			t.Logf("%g %% of the readings are not visible within %.0f ms", 100*part, ms(longest*ageBin))
			continue
		}
		t.Logf("%g %% of the readings are visible %.2f ms after their last byte", 100*part, ms(ageBin*stamp(at+1)))
	}
	within := 0
	for i := range a.of[:5000/ageBin] {
		within += a.of[i]
	}
	t.Logf("%d ages from %d scrapes, %d of them below 5 ms; of those at 5 to 6 ms %.3f %% were visible", sum(a.of), len(scrapes), within, 100*share[5000/ageBin])
}

// count enters the answers before a scrape that can still say something.
func (a *ages) count(given []stamp, asked, shown stamp) {
	next, _ := slices.BinarySearch(given, asked)
	for i := next - 1; i >= 0; i-- {
		bin := int((asked - given[i]) / ageBin)
		if bin >= len(a.of) {
			return
		}
		a.of[bin]++
		if shown >= given[i] {
			a.seen[bin]++
		}
	}
}

// rising is the share that was seen by age, made to rise as a distribution does: where
// an older bin has less than a younger one, both get what they have together
// (pool-adjacent-violators, the maximum likelihood estimate from observations of this
// kind: Ayer et al., Annals of Mathematical Statistics 26, 1955).
func (a ages) rising() []float64 {
	type block struct{ seen, of, bins int }
	var blocks []block
	share := func(b block) float64 { return float64(b.seen) / float64(max(b.of, 1)) }
	for i := range a.of {
		blocks = append(blocks, block{a.seen[i], a.of[i], 1})
		for n := len(blocks); n > 1 && (share(blocks[n-1]) < share(blocks[n-2]) || blocks[n-1].of == 0); n = len(blocks) {
			last, before := blocks[n-1], blocks[n-2]
			blocks = append(blocks[:n-2], block{before.seen + last.seen, before.of + last.of, before.bins + last.bins})
		}
	}
	var all []float64
	for _, b := range blocks {
		all = append(all, slices.Repeat([]float64{share(b)}, b.bins)...)
	}
	return all
}

func sum(all []int) (total int) {
	for _, n := range all {
		total += n
	}
	return total
}

func ms(s stamp) float64 { return float64(s) / 1000 }

// TestRising: the worked example of pooling that the source of rising gives the rule
// for; figures worked by hand.
func TestRising(t *testing.T) {
	a := ages{seen: []int{0, 3, 1, 4, 0, 5}, of: []int{4, 4, 4, 4, 0, 5}}
	if got, want := a.rising(), []float64{0, 0.5, 0.5, 1, 1, 1}; !slices.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
}
