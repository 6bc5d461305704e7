package audio

import "math"

// Measured is a figure with one standard uncertainty from noise, quantisation and
// spread, both in the unit that the field's name gives; what the instrument's own
// gain is off by is not in it. Value is NaN where it could not be measured.
type Measured struct{ Value, U float64 }

func notMeasured() Measured { return Measured{Value: math.NaN(), U: math.NaN()} }

// OK tells whether there is a value.
func (m Measured) OK() bool { return !math.IsNaN(m.Value) }

func (m Measured) times(c float64) Measured {
	return Measured{Value: c * m.Value, U: math.Abs(c) * m.U}
}

// over is the ratio of two independent figures.
func (m Measured) over(o Measured) Measured {
	if o.Value == 0 {
		return notMeasured()
	}
	ratio := m.Value / o.Value
	return Measured{Value: ratio, U: math.Hypot(m.U/o.Value, ratio*o.U/o.Value)}
}

// neper is 20/ln 10: what 1 of ln(v) is worth in dB.
const neper = 8.685889638065037

// ReferenceDBu is 0 dBu in volts rms, 1 mW in 600 ohm.
var ReferenceDBu = math.Sqrt(0.6)

// Decibels returns 20 log10(v/reference); not measured where v is not above 0: what
// is silent has no level in dB.
func (m Measured) Decibels(reference float64) Measured {
	if !(m.Value > 0) {
		return notMeasured()
	}
	return Measured{Value: 20 * math.Log10(m.Value/reference), U: neper * m.U / m.Value}
}

// DBV is the level against 1 V rms.
func (m Measured) DBV() Measured { return m.Decibels(1) }

// DBu is the level against sqrt(0.6) V rms.
func (m Measured) DBu() Measured { return m.Decibels(ReferenceDBu) }

// root is the square root of a mean square and its uncertainty.
func (m Measured) root() Measured {
	if !(m.Value > 0) {
		return Measured{Value: 0, U: math.Sqrt(math.Max(0, m.U))}
	}
	v := math.Sqrt(m.Value)
	// Near nothing the slope of the root would promise too much or too little.
	return Measured{Value: v, U: math.Min(m.U/(2*v), math.Sqrt(m.U))}
}

// SignalToNoise is 20 log10(signal/noise), both rms over the same bandwidth and
// weighting.
func SignalToNoise(signal, noise Measured) Measured {
	return signal.over(noise).Decibels(1)
}
