package book

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"
)

// halvesOf cuts a block at an edge in both ways and wants the same of them; done says
// that the highest plane of the times sufficed.
func halvesOf(t *testing.T, figures []figure, edge int64) (done bool) {
	t.Helper()
	body := newBlockWriter().append(nil, 1, figures, &clause{})
	var quick, slow [2]summary
	var reader numberReader
	done, err := reader.addHalves(quick[:], 1, edge, body)
	must(t, err)
	for i := range figures {
		f := &figures[i]
		side := 0
		if f.at >= edge {
			side = 1
		}
		slow[side].add(summary{count: 1, low: f.value, high: f.value, sum: f.value})
	}
	for i := range quick {
		same := quick[i].count == slow[i].count && quick[i].low == slow[i].low && quick[i].high == slow[i].high &&
			math.Abs(quick[i].sum-slow[i].sum) <= 1e-9*math.Abs(slow[i].sum)
		if done && !same {
			t.Fatalf("edge %d: half %d is %+v, want %+v", edge, i, quick[i], slow[i])
		}
	}
	return done
}

// TestHalvesAreExact: a block that is cut without a look at each time gives what all of
// its times give: at edges drawn anywhere, on a reading, and just beside one.
func TestHalvesAreExact(t *testing.T) {
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	random := rand.New(rand.NewPCG(seed, 0))
	readings := newWorkload(seed).read(16 * 1500)
	for _, step := range []time.Duration{time.Microsecond, time.Millisecond, time.Second} {
		for i := range readings {
			readings[i].At = readings[i].At.Truncate(step)
		}
		quick := 0
		const tries = 100
		for range tries {
			figures := ordered(figuresOf(t, readings, random.IntN(16)))[:1+random.IntN(1500)]
			first, last := figures[0].at, figures[len(figures)-1].at
			edge := first + random.Int64N(last-first+2)
			if random.IntN(3) == 0 {
				edge = figures[random.IntN(len(figures))].at + random.Int64N(3) - 1
			}
			if halvesOf(t, figures, edge) {
				quick++
			}
		}
		if step == time.Microsecond && quick < tries/2 {
			t.Errorf("of %d cuts %d were quick", tries, quick)
		}
	}
}

// TestHalvesLeaveTheRest: what a plane of times cannot tell, or values that are not
// digits of one exponent, are left to the whole block.
func TestHalvesLeaveTheRest(t *testing.T) {
	even := func(n int, change func(i int, f *figure)) []figure {
		figures := make([]figure, n)
		for i := range figures {
			figures[i] = figure{at: int64(i) * 100_000, coefficient: int64(i), value: float64(i)}
			if change != nil {
				change(i, &figures[i])
			}
		}
		return figures
	}
	for _, test := range []struct {
		name    string
		figures []figure
		edge    int64
	}{
		{"even times have no plane", even(100, nil), 50_000},
		{"hours between them", even(100, func(i int, f *figure) { f.at += int64(i*i) * 3_600_000_000 * int64(i%7) }), 3_600_000_000},
		{"computed floats", even(100, func(i int, f *figure) {
			f.at += int64(i*7919) % 1500
			f.kind, f.value = figureComputed, math.Sqrt(float64(i))
			f.coefficient = int64(math.Float64bits(f.value))
		}), 5_000_000},
		{"two exponents", even(100, func(i int, f *figure) {
			f.at += int64(i*7919) % 1500
			f.exponent = int32(-i % 2)
			f.value = decimalValue(f.coefficient, f.exponent)
		}), 5_000_000},
	} {
		t.Run(test.name, func(t *testing.T) {
			if halvesOf(t, ordered(test.figures), test.edge) {
				t.Error("it was cut by its highest plane")
			}
		})
	}
	if _, err := (&numberReader{}).addHalves(make([]summary, 2), 2, 0, newBlockWriter().append(nil, 1, even(5, nil), &clause{})); err == nil {
		t.Error("a block of another series is taken")
	}
}

// FuzzHalves: whatever the bytes, to cut them ends, and where it succeeds it agrees
// with the whole block.
func FuzzHalves(f *testing.F) {
	readings := newWorkload(1).read(16 * 300)
	f.Add(newBlockWriter().append(nil, 1, figuresOf(f, readings, 3), &clause{}), begin.UnixMicro()+10_000_000)
	f.Fuzz(func(t *testing.T, body []byte, edge int64) {
		var halves [2]summary
		var reader numberReader
		done, err := reader.addHalves(halves[:], 1, edge, body)
		if !done || err != nil {
			return
		}
		if n := halves[0].count + halves[1].count; n < 1 || n > mostInBlock {
			t.Fatal(fmt.Sprint(n, " readings"))
		}
	})
}
