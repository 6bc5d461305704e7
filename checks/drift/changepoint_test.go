package drift

import (
	"errors"
	"math/rand/v2"
	"testing"
)

// TestChangePointOfAStep: a step of two standard deviations at 120 of 200, constructed.
func TestChangePointOfAStep(t *testing.T) {
	random := rand.New(rand.NewPCG(4, 4))
	var times, v []float64
	for i := range 200 {
		x := random.NormFloat64()
		if i >= 120 {
			x += 2
		}
		times, v = append(times, 10*float64(i)), append(v, x)
	}
	c, err := ChangePointOf(times, v)
	if err != nil {
		t.Fatal(err)
	}
	within(t, "index", float64(c.Index), 120, 4)
	within(t, "time", c.At, 10*float64(c.Index), 0)
	within(t, "step", c.After-c.Before, 2, 0.4)
	if c.P > 1e-6 {
		t.Errorf("p = %v, want next to none", c.P)
	}
}

// TestChangePointOfNoChange: p is below 5 % in about 5 % of records without a change
// (2000 records, seed fixed); neighbours that resemble each other must not make it
// much more.
func TestChangePointOfNoChange(t *testing.T) {
	for _, n := range []noise{{"white", 0, 0}, {"resembling 0.7", 0.7, 0}} {
		found := 0
		times, v := make([]float64, 200), make([]float64, 200)
		for record := range 2000 {
			n.readings(v, rand.New(rand.NewPCG(uint64(record), 5)))
			c, err := ChangePointOf(times, v)
			if err != nil {
				t.Fatal(err)
			}
			if c.P < 0.05 {
				found++
			}
		}
		t.Logf("%s: %.1f %% below p = 5 %%", n.name, float64(found)/20)
		if found > 150 {
			t.Errorf("%s: a change in %d of 2000 records without one", n.name, found)
		}
	}
}

// TestKolmogorov: critical values of the limit distribution, 10, 5 and 1 % (from memory).
func TestKolmogorov(t *testing.T) {
	for d, p := range map[float64]float64{1.2238: 0.10, 1.3581: 0.05, 1.6276: 0.01} {
		within(t, "p", kolmogorov(d), p, 5e-5)
	}
	if kolmogorov(0) != 1 || kolmogorov(0.2) > 1 || kolmogorov(9) != 0 && kolmogorov(9) > 1e-60 {
		t.Error("p must go from 1 to 0")
	}
}

func TestChangePointAtTheEdges(t *testing.T) {
	if _, err := ChangePointOf([]float64{1, 2, 3}, []float64{1, 2, 3}); !errors.Is(err, ErrTooFew) {
		t.Errorf("three points: %v", err)
	}
	if _, err := ChangePointOf([]float64{1}, []float64{1, 2}); err == nil {
		t.Error("other lengths: no error")
	}
	flat, err := ChangePointOf(make([]float64, 9), make([]float64, 9))
	if err != nil || flat.P != 1 {
		t.Errorf("a flat record: %+v, %v; want p 1", flat, err)
	}
	clean, err := ChangePointOf([]float64{0, 1, 2, 3, 4, 5}, []float64{0, 0, 0, 7, 7, 7})
	if err != nil || clean.Index != 3 || clean.P != 0 {
		t.Errorf("a clean step: %+v, %v; want index 3, p 0", clean, err)
	}
}
