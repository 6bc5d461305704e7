package drift

import (
	"fmt"
	"math"
)

// ChangePoint is where the level of a record most probably changed.
type ChangePoint struct {
	// Index is the first point after the change, At its time in seconds.
	Index int
	At    float64
	// Before and After are the mean levels on either side.
	Before, After float64
	// P is the probability of so large a sum of deviations without a change.
	P float64
}

// ChangePointOf finds one change of level in v over t (seconds): where the sum of
// the deviations from the mean is farthest from zero (Page's cumulative sum, looked
// at afterwards). P is that of the largest excursion of a Brownian bridge, whose
// scale is the spread about the two levels, raised for autocorrelation (from
// memory). It fails with ErrTooFew below four points.
func ChangePointOf(t, v []float64) (ChangePoint, error) {
	if len(t) != len(v) {
		return ChangePoint{}, fmt.Errorf("find a change: %d times and %d values", len(t), len(v))
	}
	if len(v) < 4 {
		return ChangePoint{}, fmt.Errorf("find a change in %d points: %w", len(v), ErrTooFew)
	}
	level, sum, far, at := mean(v), 0.0, -1.0, 0
	for i, x := range v[:len(v)-1] {
		sum += x - level
		if math.Abs(sum) > far {
			far, at = math.Abs(sum), i+1
		}
	}
	c := ChangePoint{Index: at, At: t[at], Before: mean(v[:at]), After: mean(v[at:])}
	spread := c.longRunSD(v)
	switch {
	case spread > 0:
		c.P = kolmogorov(far / (spread * math.Sqrt(float64(len(v)))))
	case c.Before == c.After:
		c.P = 1
	}
	return c, nil
}

func (c ChangePoint) longRunSD(v []float64) float64 {
	rest := make([]float64, len(v))
	var squares compensated
	for i, x := range v {
		rest[i] = x - c.Before
		if i >= c.Index {
			rest[i] = x - c.After
		}
		squares.addProduct(rest[i], rest[i])
	}
	return math.Sqrt(squares.value() / float64(len(v)-2) * inflation(residualLag1(rest)))
}

// kolmogorov returns the chance that the largest excursion of a Brownian bridge is
// above d.
func kolmogorov(d float64) float64 {
	if d < 0.2 {
		return 1 // the series is 1 to 12 digits, and slow, there
	}
	p, sign := 0.0, 2.0
	for k := 1.0; k <= 20; k++ {
		p += float64(sign * math.Exp(-2*k*k*d*d))
		sign = -sign
	}
	return min(max(p, 0), 1)
}
