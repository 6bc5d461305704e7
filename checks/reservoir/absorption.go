package reservoir

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// fitTwoDecays fits two exponentials down to 0 V: the plates, and the slower charge
// of the dielectric behind them. first is the single one already fitted.
func fitTwoDecays(t, v []float64, first curve) (curve, error) {
	if len(t) < 8 {
		return curve{}, fmt.Errorf("%w: %d readings for two exponentials", errNoFit, len(t))
	}
	zero := t[0]
	q := problem{points: len(t), params: 4, freedom: len(t) - 4, scale: sumOfSquares(v), patience: decayPatience / 2}
	q.residuals = func(p, r []float64) {
		for i := range t {
			dt := t[i] - zero
			r[i] = v[i] - p[0]*math.Exp(-p[1]*dt) - p[2]*math.Exp(-p[3]*dt)
		}
	}
	q.slopes = func(p []float64, j *mat.Dense) {
		for i := range t {
			dt := t[i] - zero
			a, b := math.Exp(-p[1]*dt), math.Exp(-p[3]*dt)
			j.SetRow(i, []float64{a, -dt * p[0] * a, b, -dt * p[2] * b})
		}
	}
	best, err := solution{}, errNoFit
	rate, all := first.rates[0], first.levels[0]+first.floor
	for _, start := range [][]float64{
		{0.95 * all, 1.1 * rate, 0.05 * all, 0.5 * rate}, {0.95 * all, 1.1 * rate, 0.05 * all, 0.1 * rate},
		{0.95 * all, 1.1 * rate, 0.05 * all, 0.02 * rate}, {0.97 * all, rate, 0.03 * all, 3 * rate}, {0.97 * all, rate, 0.03 * all, 10 * rate},
	} {
		s, wrong := q.solve(start)
		if wrong == nil && (err != nil || s.squares < best.squares) {
			best, err = s, nil
		}
	}
	if err != nil {
		return curve{}, err
	}
	p := best.p
	return curve{zero: zero, levels: []float64{p[0], p[2]}, rates: []float64{p[1], p[3]}, fit: best, floorAt: -1}, nil
}

// asAbsorption tells whether two exponentials are what a capacitor with an
// absorbing dielectric shows: both fall, clearly apart, and the smaller one holds at
// most as much of the voltage as a poor electrolytic gives back (W-84: 15 %; twice
// that here). A dielectric that is quicker than the discharge shows as a small fast
// part, one that is slower as a small slow part.
func (c curve) asAbsorption() bool {
	if len(c.rates) != 2 {
		return false
	}
	small := 0
	if c.levels[1] < c.levels[0] {
		small = 1
	}
	slowest, fastest := min(c.rates[0], c.rates[1]), max(c.rates[0], c.rates[1])
	share := c.levels[small] / (c.levels[0] + c.levels[1])
	if c.rates[small] == fastest && fastest > 20*slowest {
		return false // more like a regulator that drops out between two readings
	}
	return slowest > 0 && fastest > 1.2*slowest && share > 0.001 && share < 0.3 &&
		c.fit.u(2*small) < c.levels[small]/5
}

// betterBy tells whether a fit with more figures is worth them: by the information
// that it gains beyond what its figures cost (Schwarz 1978; from memory). noise is
// the least standard deviation that a residual is believed to have.
func betterBy(simple, full solution, points int, noise float64) bool {
	least := float64(points) * noise * noise
	n := float64(points)
	gain := n * math.Log((simple.squares+least)/(full.squares+least))
	return gain > 10+float64(len(full.p)-len(simple.p))*math.Log(n)
}
