package supply

import (
	"math"
	"slices"
)

// Measured is a figure with one standard uncertainty from the record's own spread,
// in the unit that the field's name gives; both NaN where it was not measured.
type Measured struct{ Value, U float64 }

func notMeasured() Measured { return Measured{Value: math.NaN(), U: math.NaN()} }

// OK tells whether there is a figure.
func (m Measured) OK() bool { return !math.IsNaN(m.Value) }

// measured is the mean of equal parts of a record with its standard uncertainty
// (JCGM 100:2008, 4.2.3); without a spread to go by that is NaN.
func measured(parts []float64) Measured {
	if len(parts) == 0 {
		return notMeasured()
	}
	m := Measured{Value: mean(parts), U: math.NaN()}
	if len(parts) > 1 {
		m.U = math.Sqrt(variance(parts) / float64(len(parts)))
	}
	return m
}

func mean(v []float64) float64 {
	if len(v) == 0 {
		return math.NaN()
	}
	sum := 0.0
	for _, x := range v {
		sum += x - v[0]
	}
	return v[0] + sum/float64(len(v))
}

// variance has the divisor n - 1.
func variance(v []float64) float64 {
	m, sum := mean(v), 0.0
	for _, x := range v {
		sum += (x - m) * (x - m)
	}
	return sum / float64(len(v)-1)
}

// quantile of v, which is not changed: 0 the least, 1 the greatest.
func quantile(v []float64, share float64) float64 {
	if len(v) == 0 {
		return math.NaN()
	}
	s := slices.Clone(v)
	slices.Sort(s)
	return s[int(share*float64(len(s)-1)+0.5)]
}

// noiseOf is the standard deviation of the fast part of v, from its third
// differences: their median size is 0.6745 sqrt(20) of it for independent normal
// noise.
func noiseOf(v []float64) float64 {
	if len(v) < 6 {
		return 0
	}
	// Enough of a long record tells as well as all.
	v = v[:min(len(v), 1<<16)]
	third := make([]float64, 0, len(v)-3)
	for i := 3; i < len(v); i++ {
		third = append(third, math.Abs(v[i]-3*v[i-1]+3*v[i-2]-v[i-3]))
	}
	return quantile(third, 0.5) / (0.6745 * math.Sqrt(20))
}

// blocks averages neighbours so that at most most remain, and returns how many went
// into each.
func blocks(v []float64, most int) (means []float64, each int) {
	each = max(1, (len(v)+most-1)/most)
	if each == 1 {
		return v, 1
	}
	means = make([]float64, 0, len(v)/each)
	for ; len(v) >= each; v = v[each:] {
		means = append(means, mean(v[:each]))
	}
	return means, each
}
