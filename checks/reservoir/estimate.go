package reservoir

import (
	"math"
	"strconv"
)

// Estimate is a figure with one standard uncertainty, both in the unit that the
// field's name gives. Both are NaN where the figure could not be found.
type Estimate struct{ Value, U float64 }

func unknown() Estimate { return Estimate{Value: math.NaN(), U: math.NaN()} }

// OK tells whether there is a figure.
func (e Estimate) OK() bool { return !math.IsNaN(e.Value) && !math.IsInf(e.Value, 0) }

// over divides by another, independent figure.
func (e Estimate) over(by Estimate) Estimate {
	q := e.Value / by.Value
	return Estimate{Value: q, U: math.Abs(q) * math.Hypot(e.U/e.Value, by.U/by.Value)}
}

// times widens the uncertainty by a relative one of a factor in it.
func (e Estimate) times(share float64) Estimate {
	return Estimate{Value: e.Value, U: math.Hypot(e.U, share*e.Value)}
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

// rounded keeps three significant digits, for figures in texts.
func rounded(x float64) float64 {
	y, err := strconv.ParseFloat(strconv.FormatFloat(x, 'g', 3, 64), 64)
	if err != nil {
		return x
	}
	return y
}
