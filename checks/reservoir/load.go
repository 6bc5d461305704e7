package reservoir

import "math"

// UsualMeterOhms is what most meters put across what they measure (W-35, common
// practice).
const UsualMeterOhms = 10e6

// parallel is two resistances side by side; +Inf is nothing.
func parallel(a, b float64) float64 {
	switch {
	case math.IsInf(a, 1):
		return b
	case math.IsInf(b, 1):
		return a
	default:
		return a * b / (a + b)
	}
}

// CapacitanceFromDecay returns the capacitance that falls from one voltage to
// another in a time through a load, C = t/(R ln(V1/V2)) (W-34), in farad. meterOhms
// lies in parallel with the load; +Inf for none. It is NaN unless the voltage falls.
func CapacitanceFromDecay(fromVolts, toVolts, seconds, loadOhms, meterOhms float64) float64 {
	if !(fromVolts > toVolts && toVolts > 0 && seconds > 0) {
		return math.NaN()
	}
	return seconds / (parallel(loadOhms, meterOhms) * math.Log(fromVolts/toVolts))
}

// SecondsToFall returns how long a capacitor takes from one voltage to another
// through a load, t = R C ln(V1/V2) (W-30): an estimate for a load that is whole.
// It is NaN unless both are above 0 V and the second is the lower.
func SecondsToFall(fromVolts, toVolts, farads, ohms float64) float64 {
	if !(fromVolts >= toVolts && toVolts > 0) {
		return math.NaN()
	}
	return ohms * farads * math.Log(fromVolts/toVolts)
}

// StoredJoules is the energy in a capacitor, C V^2/2, and StoredCoulombs its
// charge, C V (W-32, W-36).
func StoredJoules(farads, volts float64) float64 { return farads * volts * volts / 2 }

// StoredCoulombs is C V; see StoredJoules.
func StoredCoulombs(farads, volts float64) float64 { return farads * math.Abs(volts) }

// DischargeResistor returns the current and the power in a resistor at the first
// instant of a discharge (W-33): what it must stand, and the energy of StoredJoules
// after it.
func DischargeResistor(volts, ohms float64) (amperes, watts float64) {
	return volts / ohms, volts * volts / ohms
}

// SeriesOhms is the series resistance that a loss factor means at a frequency, tan
// d/(2 pi f C) (W-70). Data sheets give it at 100 or at 120 Hz.
func SeriesOhms(tanDelta, hertz, farads float64) float64 {
	return tanDelta / (2 * math.Pi * hertz * farads)
}
