package video

import "math"

// Measured is a figure with one standard uncertainty from noise, quantisation and
// spread, both in the unit that the field's name gives. Value is NaN where it could
// not be measured.
type Measured struct{ Value, U float64 }

func notMeasured() Measured { return Measured{Value: math.NaN(), U: math.NaN()} }

// OK tells whether there is a value.
func (m Measured) OK() bool { return !math.IsNaN(m.Value) }

// plus adds two independent figures.
func (m Measured) plus(o Measured) Measured {
	return Measured{Value: m.Value + o.Value, U: math.Hypot(m.U, o.U)}
}

// minus takes one independent figure from another.
func (m Measured) minus(o Measured) Measured {
	return Measured{Value: m.Value - o.Value, U: math.Hypot(m.U, o.U)}
}

func (m Measured) times(c float64) Measured {
	return Measured{Value: c * m.Value, U: math.Abs(c) * m.U}
}
