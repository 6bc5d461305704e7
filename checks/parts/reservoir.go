package parts

import "math"

// Reservoir is the capacitor behind a mains rectifier with ideal diodes.
type Reservoir struct {
	// PeakV is the top of the rectified voltage, diode drops taken off.
	PeakV float64
	// One of LoadA (a load of constant current, such as a regulator) and LoadOhm is
	// above 0, the other 0.
	LoadA, LoadOhm float64
	CapacitanceF   float64
	MainsHz        float64
	// HalfWave charges once a mains period instead of twice.
	HalfWave bool
}

// Validate says what cannot be calculated with, all of it at once.
func (r Reservoir) Validate() error {
	var m mistakes
	m.above0("peak_v", r.PeakV)
	m.add((r.LoadA > 0) != (r.LoadOhm > 0), "load_a", r.LoadA, "a load as a current or as a resistance, one of them")
	m.notBelow0("load_a", r.LoadA)
	m.notBelow0("load_ohm", r.LoadOhm)
	m.above0("capacitance_f", r.CapacitanceF)
	m.above0("mains_hz", r.MainsHz)
	return m.err()
}

// ReservoirResult is the ripple on a reservoir capacitor, peak to peak.
type ReservoirResult struct {
	CapacitanceF float64 `json:"capacitance_f"`
	RippleHz     float64 `json:"ripple_hz"`
	// SimpleV is the rule of thumb, BetterV takes the charging time off, ExactV
	// follows the sine; ResistiveV is for a load that is a resistance. All are at
	// most PeakV.
	SimpleV    float64 `json:"ripple_simple_v"`
	BetterV    float64 `json:"ripple_better_v"`
	ExactV     float64 `json:"ripple_exact_v"`
	ResistiveV float64 `json:"ripple_resistive_v"`
	// RMSV is the exact ripple's rms as a sawtooth; MeanV the mean voltage, and
	// TroughV the lowest.
	RMSV    float64 `json:"ripple_rms_v"`
	MeanV   float64 `json:"mean_v"`
	TroughV float64 `json:"trough_v"`
	// RunsDry tells that the capacitor is empty before it is charged again.
	RunsDry bool `json:"runs_dry"`
}

// Calculate returns, with T = 1/(2f) for full and 1/f for half wave,
//
//	simple: dV = I T/C
//	better: dV = (I/C)(T - tc), tc = arccos(1 - dV/Vp)/(2 pi f), iterated
//	exact: leaves the sine where Vp w sin(w t0) = I/C, falls straight, meets the
//	  next half wave (ideal diode)
//	resistive: dV = Vp (1 - exp(-td/(R C))), td = T - tc, iterated
//	rms: dV/(2 sqrt 3)   mean: Vp - dV/2   (both of the exact one, as a sawtooth)
//
// A load given as a resistance draws Vp/R in the first three, a current is the
// resistance Vp/I in the fourth; rms, mean and trough go with the kind of load
// that was given.
func (r Reservoir) Calculate() (ReservoirResult, error) {
	if err := r.Validate(); err != nil {
		return ReservoirResult{}, err
	}
	result := ReservoirResult{
		CapacitanceF: r.CapacitanceF, RippleHz: 1 / r.period(),
		SimpleV: math.Min(r.simple(), r.PeakV),
		BetterV: r.settle(r.better), ExactV: r.exact(), ResistiveV: r.settle(r.resistive),
	}
	ripple := r.ripple()
	result.RMSV = ripple / (2 * math.Sqrt(3))
	result.MeanV = r.PeakV - ripple/2
	result.TroughV = r.PeakV - ripple
	result.RunsDry = ripple >= r.PeakV
	return finite(result)
}

// ripple is the form that goes with the kind of load given.
func (r Reservoir) ripple() float64 {
	if r.LoadOhm > 0 {
		return r.settle(r.resistive)
	}
	return r.exact()
}

func (r Reservoir) period() float64 {
	if r.HalfWave {
		return 1 / r.MainsHz
	}
	return 1 / (2 * r.MainsHz)
}

func (r Reservoir) amperes() float64 {
	if r.LoadOhm > 0 {
		return r.PeakV / r.LoadOhm
	}
	return r.LoadA
}

func (r Reservoir) simple() float64 { return r.amperes() * r.period() / r.CapacitanceF }

// charging is how long before the peak a ripple of rippleV is refilled.
func (r Reservoir) charging(rippleV float64) float64 {
	return math.Acos(1-rippleV/r.PeakV) / (2 * math.Pi * r.MainsHz)
}

func (r Reservoir) better(rippleV float64) float64 {
	return r.amperes() / r.CapacitanceF * (r.period() - r.charging(rippleV))
}

func (r Reservoir) resistive(rippleV float64) float64 {
	discharge := r.period() - r.charging(rippleV)
	return -r.PeakV * math.Expm1(-discharge*r.amperes()/(r.PeakV*r.CapacitanceF))
}

// settle finds the ripple that a form gives back for itself, at most PeakV. The
// forms fall as the ripple rises, so halving the interval always ends where
// iterating may swing.
func (r Reservoir) settle(form func(rippleV float64) float64) float64 {
	if form(r.PeakV) >= r.PeakV {
		return r.PeakV
	}
	return halve(0, r.PeakV, func(v float64) bool { return form(v) > v })
}

// exact follows the capacitor: it leaves the falling sine at leave, falls straight
// and meets the next rising one. That one begins a quarter of a mains period
// before the next peak.
func (r Reservoir) exact() float64 {
	omega := 2 * math.Pi * r.MainsHz
	slope := r.amperes() / r.CapacitanceF
	if slope >= omega*r.PeakV {
		return r.PeakV // never leaves the sine, down to nothing
	}
	leave := math.Asin(slope/(omega*r.PeakV)) / omega
	line := func(t float64) float64 { return r.PeakV*math.Cos(omega*leave) - slope*(t-leave) }
	from, to := r.period()-1/(4*r.MainsHz), r.period()
	if line(from) <= 0 {
		return r.PeakV
	}
	meet := halve(from, to, func(t float64) bool {
		return line(t) > r.PeakV*math.Cos(omega*(t-r.period()))
	})
	return r.PeakV - line(meet)
}

// halve returns where goesOn turns false between low and high.
func halve(low, high float64, goesOn func(x float64) bool) float64 {
	for range 200 {
		mid := low + (high-low)/2
		if goesOn(mid) {
			low = mid
		} else {
			high = mid
		}
	}
	return high
}

// Rows are the result's figures for a table.
func (r ReservoirResult) Rows() []Row {
	return []Row{
		{"capacitor", r.CapacitanceF, Farad},
		{"ripple frequency", r.RippleHz, Hertz},
		{"ripple, rule of thumb", r.SimpleV, Volt},
		{"ripple, charging time off", r.BetterV, Volt},
		{"ripple, exact", r.ExactV, Volt},
		{"ripple, resistive load", r.ResistiveV, Volt},
		{"ripple, rms", r.RMSV, Volt},
		{"mean", r.MeanV, Volt},
		{"lowest", r.TroughV, Volt},
	}
}
