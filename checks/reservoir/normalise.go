package reservoir

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// What it takes to learn a coefficient (no source: enough to tell it from wear).
const (
	leastToLearn = 8
	leastDegrees = 3.0
)

// normalise brings the values to a reference temperature, each degree a relative
// change, and returns the coefficient used: the one given, or where that is NaN the
// one learnt from the values themselves; NaN where there is none and they stay as
// they are. A value without a temperature stays as it is.
func (c *course) normalise(perDegree, reference float64) float64 {
	if math.IsNaN(perDegree) {
		perDegree = c.learn()
	}
	if math.IsNaN(perDegree) || c.noTemperature == len(c.values) {
		return math.NaN()
	}
	for i, degrees := range c.celsius {
		if !math.IsNaN(degrees) {
			c.values[i] *= math.Exp(-perDegree * (degrees - reference))
		}
	}
	return perDegree
}

// learn fits ln(value) = a + b time + k temperature by least squares, so that a
// change over time is not taken for one with temperature.
func (c *course) learn() float64 {
	if len(c.values) < leastToLearn || c.noTemperature > 0 {
		return math.NaN()
	}
	low, high := c.celsius[0], c.celsius[0]
	rows := mat.NewDense(len(c.values), 3, nil)
	right := mat.NewVecDense(len(c.values), nil)
	span := max(1, c.seconds[len(c.seconds)-1])
	for i, v := range c.values {
		low, high = min(low, c.celsius[i]), max(high, c.celsius[i])
		rows.SetRow(i, []float64{1, c.seconds[i] / span, c.celsius[i]})
		right.SetVec(i, math.Log(v))
	}
	if !(high-low >= leastDegrees) {
		return math.NaN()
	}
	var fit mat.VecDense
	if err := fit.SolveVec(rows, right); err != nil || !finite(fit.AtVec(2)) {
		return math.NaN()
	}
	return fit.AtVec(2)
}
