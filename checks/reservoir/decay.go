package reservoir

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// floorBelief says how near 0 V a floor is believed to be before there are readings
// enough to tell; an sd of 0 believes nothing.
type floorBelief struct {
	sdVolts    float64
	noiseVolts float64 // of one reading
}

func (b floorBelief) weight() float64 {
	if b.sdVolts <= 0 {
		return 0
	}
	return b.noiseVolts / b.sdVolts
}

// decayPatience is how many steps a fit from a scanned start may take; ten are usual.
const decayPatience = 100

// fitDecay fits one exponential over a floor to v at t seconds by nonlinear least
// squares, from the best of a ladder of rates.
func fitDecay(t, v []float64, belief floorBelief) (curve, error) {
	if len(t) < 4 {
		return curve{}, fmt.Errorf("%w: %d readings", errNoFit, len(t))
	}
	zero, n, weight := t[0], len(t), belief.weight()
	q := problem{points: n + 1, params: 3, freedom: n - 3, scale: sumOfSquares(v), patience: decayPatience}
	if weight > 0 {
		q.freedom++
	}
	q.residuals = func(p, r []float64) {
		for i := range t {
			r[i] = v[i] - p[2] - p[0]*math.Exp(-p[1]*(t[i]-zero))
		}
		r[n] = -p[2] * weight
	}
	q.slopes = func(p []float64, j *mat.Dense) {
		for i := range t {
			e := math.Exp(-p[1] * (t[i] - zero))
			j.Set(i, 0, e)
			j.Set(i, 1, -(t[i]-zero)*p[0]*e)
			j.Set(i, 2, 1)
		}
		j.SetRow(n, []float64{0, 0, weight})
	}
	s, err := q.solve(startOfDecay(t, v, weight))
	if err != nil {
		return curve{}, err
	}
	return curve{zero: zero, levels: s.p[:1], rates: s.p[1:2], floor: s.p[2], fit: s, floorAt: 2}, nil
}

// startOfDecay scans rates; level and floor follow from each by linear least
// squares.
func startOfDecay(t, v []float64, weight float64) []float64 {
	best, least := []float64{v[0], 1 / (t[len(t)-1] - t[0]), 0}, math.Inf(1)
	for _, rate := range rateLadder(t) {
		level, floor, squares := linearDecay(t, v, rate, weight)
		if squares < least {
			best, least = []float64{level, rate, floor}, squares
		}
	}
	return best
}

// rateLadder are rates from a hundredth of one fall over the record to one within
// two readings.
func rateLadder(t []float64) []float64 {
	span := t[len(t)-1] - t[0]
	slow, fast := 0.01/span, 2*float64(len(t))/span
	const rungs = 48
	ladder := make([]float64, rungs)
	for i := range ladder {
		ladder[i] = slow * math.Pow(fast/slow, float64(i)/(rungs-1))
	}
	return ladder
}

func linearDecay(t, v []float64, rate, weight float64) (level, floor, squares float64) {
	var ee, e1, n, ev, sv, vv float64
	for i := range t {
		e := math.Exp(-rate * (t[i] - t[0]))
		ee += e * e
		e1 += e
		n++
		ev += e * v[i]
		sv += v[i]
		vv += v[i] * v[i]
	}
	n += weight * weight
	det := ee*n - e1*e1
	if !(det > 1e-13*ee*n) {
		return 0, 0, math.Inf(1)
	}
	level, floor = (ev*n-sv*e1)/det, (ee*sv-e1*ev)/det
	return level, floor, max(0, vv-level*ev-floor*sv)
}
