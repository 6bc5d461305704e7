package supply

import (
	"math"
	"testing"
)

// Slow meter readings of a soak; the shares of nominal are from memory, the
// sequences are constructed.
func TestDipsAmongReadings(t *testing.T) {
	nan := math.NaN()
	for _, row := range []struct {
		name  string
		volts []float64
		want  []Dip
	}{
		{"none", []float64{5, 5, 5}, nil},
		{"exactly on nine tenths is no dip", []float64{5, 4.5, 5}, nil},
		{"just below is", []float64{5, 4.499999, 5}, []Dip{{Kind: BrownOut, BeginSeconds: 1, EndSeconds: 2, LowestVolts: 4.499999}}},
		{"exactly a tenth is still a brown-out", []float64{5, 0.5, 5}, []Dip{{Kind: BrownOut, BeginSeconds: 1, EndSeconds: 2, LowestVolts: 0.5}}},
		{"a dropout on its way", []float64{5, 4, 0.1, 4, 5}, []Dip{{Kind: Dropout, BeginSeconds: 1, EndSeconds: 4, LowestVolts: 0.1}}},
		{"two", []float64{4, 5, 0, 5}, []Dip{{Kind: BrownOut, EndSeconds: 1, LowestVolts: 4}, {Kind: Dropout, BeginSeconds: 2, EndSeconds: 3}}},
		{"it lasts", []float64{5, 4}, []Dip{{Kind: BrownOut, BeginSeconds: 1, EndSeconds: nan, LowestVolts: 4}}},
		{"a reading that is none is not 0 V", []float64{5, nan, 5}, nil},
		{"nor ends a dip", []float64{4, nan, 4, 5}, []Dip{{Kind: BrownOut, EndSeconds: 3, LowestVolts: 4}}},
	} {
		seconds := make([]float64, len(row.volts))
		for i := range seconds {
			seconds[i] = float64(i)
		}
		got := Dips(seconds, row.volts, 5, 0, 0)
		if len(got) != len(row.want) {
			t.Errorf("%s: %+v", row.name, got)
			continue
		}
		for i, w := range row.want {
			g := got[i]
			same := g.EndSeconds == w.EndSeconds || math.IsNaN(g.EndSeconds) && math.IsNaN(w.EndSeconds)
			if g.Kind != w.Kind || g.BeginSeconds != w.BeginSeconds || !same || g.LowestVolts != w.LowestVolts || math.Abs(g.DepthShare-(1-w.LowestVolts/5)) > 1e-12 {
				t.Errorf("%s: %+v, want %+v", row.name, g, w)
			}
		}
	}
}

// Readings too far apart tell nothing: no dip, and a dip across them is broken.
func TestGapsAreNotKnown(t *testing.T) {
	w := NewDipWatch(5, 4.75, 2)
	w.Observe(0, 5)
	w.Observe(10, 5)
	if w.MissingSeconds() != 10 {
		t.Errorf("%g s missing", w.MissingSeconds())
	}
	w.Observe(11, 4.7)
	w.Observe(30, 4.7)
	d, ok := w.Observe(31, 5)
	if !ok || !d.Broken || d.Seconds() != 20 || w.MissingSeconds() != 29 {
		t.Errorf("%+v, %g s missing", d, w.MissingSeconds())
	}
	if _, ok := w.Observe(31, 1); ok || func() bool { _, open := w.Now(); return open }() {
		t.Error("a reading of the same time counted")
	}
}

func BenchmarkDipWatch(b *testing.B) {
	w := NewDipWatch(5, 4.75, 2)
	s := 0.0
	b.ReportAllocs()
	for b.Loop() {
		s++
		w.Observe(s, 5)
	}
}
