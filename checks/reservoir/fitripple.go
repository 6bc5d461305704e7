package reservoir

import (
	"errors"
	"fmt"
	"math"

	"soakline/checks"
)

// RippleOptions say what is known about a supply whose ripple was recorded.
type RippleOptions struct {
	// One of LoadAmperes (constant current) and LoadOhms is above 0; LoadU is the
	// standard uncertainty of that one.
	LoadAmperes, LoadOhms, LoadU float64
	// RippleHertz is about the frequency of the ripple: twice the mains frequency,
	// or once with HalfWave.
	RippleHertz float64
	HalfWave    bool
}

// Validate says what is wrong with the options, all of it at once.
func (o RippleOptions) Validate() error {
	var wrong []error
	if (o.LoadAmperes > 0) == (o.LoadOhms > 0) || !(o.LoadAmperes >= 0) || !(o.LoadOhms >= 0) || math.IsInf(o.LoadAmperes+o.LoadOhms, 1) {
		wrong = append(wrong, fmt.Errorf("load is %v A and %v ohm, wanted one of them above 0", o.LoadAmperes, o.LoadOhms))
	}
	if !(o.RippleHertz > 0) || math.IsInf(o.RippleHertz, 1) {
		wrong = append(wrong, fmt.Errorf("ripple_hz is %v, wanted above 0", o.RippleHertz))
	}
	if !(o.LoadU >= 0) {
		wrong = append(wrong, fmt.Errorf("load_u is %v, wanted 0 or more", o.LoadU))
	}
	return errors.Join(wrong...)
}

// RippleFit is what the shape of a ripple says about the capacitor.
type RippleFit struct {
	// Capacitance is in farad, ESR and Source (winding and diodes) in ohm. ESR is
	// NaN where the record does not tell it, and ESRBelow then its upper bound.
	Capacitance, ESR, Source Estimate
	ESRBelow                 float64
	// Hertz is the ripple's frequency as found, ResidualVolts the rms of what the
	// fit leaves of the mean cycle.
	Hertz         float64
	ResidualVolts float64
	Findings      []checks.Finding
}

// FitRipple finds capacitance and series resistance from a DC-coupled record of the
// voltage at the capacitor, in volts at an interval in seconds. It fits the circuit
// (winding, diode, capacitor with ESR, load) to the mean cycle: the slope between
// charging pulses is the load current over the capacitance whatever the ESR, and
// the steps where charging begins and ends are the ESR times the change of current
// (W-24), so that the two are told apart. Three cycles of 40 samples are the least.
//
// A record that does not look like a reservoir's ripple gives a finding and NaN, no
// error. Errors are wrong options.
func FitRipple(volts []float64, interval float64, o RippleOptions) (RippleFit, error) {
	if err := o.Validate(); err != nil {
		return RippleFit{}, fmt.Errorf("fit ripple: %w", err)
	}
	f := RippleFit{Capacitance: unknown(), ESR: unknown(), Source: unknown(), ESRBelow: math.NaN(), Hertz: math.NaN(), ResidualVolts: math.NaN()}
	for _, v := range volts {
		if !finite(v) || math.Abs(v) > 1e9 {
			return f.not("a sample is not a number"), nil
		}
	}
	folded, err := foldCycles(positive(volts), interval, o.RippleHertz)
	if err != nil {
		return f.not(err.Error()), nil
	}
	f.Hertz = folded.hertz
	start, err := startOfCircuit(folded, o)
	if err != nil {
		return f.not(err.Error()), nil
	}
	best, reason := fitCircuit(folded, start)
	if reason == "" {
		f.take(best, folded, start, o)
		return f, nil
	}
	farads, esr, ok := stepFit(folded, start, start.load)
	if !ok {
		return f.not(reason), nil
	}
	f.Capacitance, f.ESR = farads.times(o.loadShare()), esr.times(o.loadShare())
	f.tellESR(start)
	return f, nil
}

// loadShare is the relative uncertainty of the load.
func (o RippleOptions) loadShare() float64 { return o.LoadU / (o.LoadAmperes + o.LoadOhms) }

func (f RippleFit) not(reason string) RippleFit {
	f.Findings = append(f.Findings, find(codeNoRippleFit, checks.Borderline, reason))
	return f
}

// positive turns a negative supply's record over.
func positive(volts []float64) []float64 {
	if len(volts) == 0 || meanOf(volts) >= 0 {
		return volts
	}
	over := make([]float64, len(volts))
	for i, v := range volts {
		over[i] = -v
	}
	return over
}

// The places of the fitted figures; resistances and capacitance by their logarithm,
// so that they stay above 0.
const (
	atPeak = iota
	atPhase
	atSource
	atFarads
	atESR
	atDrop
	circuitFigures
)

// Beliefs that keep the fit where circuits are: diodes take off about a volt.
const (
	believedDrop   = 1.0  // V
	believedDropSD = 0.7  // V
	softDiodes     = 0.04 // ESR mistaken for soft diodes, as a share of the source's resistance
	mostLeft       = 0.03 // rms of the residuals as a share of the ripple's
)

// fitCircuit fits from several starts and keeps the nearest.
func fitCircuit(c cycle, s circuitStart) (best solution, reason string) {
	q := s.problem(c)
	found := false
	for _, esr := range []float64{0.02, 0.15, 0.6} {
		start := []float64{s.peak, s.phase, math.Log(0.1 * s.ohms), math.Log(s.farads), math.Log(esr * s.ohms), believedDrop}
		one, err := q.solve(start)
		if err == nil && (!found || one.squares < best.squares) {
			best, found = one, true
		}
	}
	if !found {
		return best, "no circuit fits it"
	}
	if left := math.Sqrt(best.squares / float64(q.points)); left > mostLeft*s.ripple/math.Sqrt(12) {
		return best, fmt.Sprintf("the nearest circuit leaves %s rms of it", volt(left))
	}
	return best, ""
}

// circuitStart is a first guess from the mean cycle.
type circuitStart struct {
	circuit
	ripple, ohms float64 // V peak to peak; ripple over load current
	load         float64 // A
	top          int     // bin of the highest voltage
}

func startOfCircuit(c cycle, o RippleOptions) (circuitStart, error) {
	top, bottom := 0, 0
	for i, v := range c.volts {
		if v > c.volts[top] {
			top = i
		}
		if v < c.volts[bottom] {
			bottom = i
		}
	}
	n := len(c.volts)
	s := circuitStart{ripple: c.volts[top] - c.volts[bottom]}
	if !(s.ripple > 10*c.noise) || !(s.ripple < c.volts[top]) {
		return s, fmt.Errorf("%w: there is no ripple above the noise", errNoFit)
	}
	s.top = top
	load := o.LoadAmperes
	if o.LoadOhms > 0 {
		s.siemens = 1 / o.LoadOhms
		load = meanOf(c.volts) / o.LoadOhms
	}
	falls := (bottom - top + n) % n
	from, to := (top+falls*3/10)%n, (top+falls*8/10)%n
	slope := (c.volts[from] - c.volts[to]) * c.hertz * float64(n) / float64((to-from+n)%n)
	if !(slope > 0) || falls < n/4 {
		return s, fmt.Errorf("%w: it does not fall between charging pulses", errNoFit)
	}
	s.load = load
	s.ohms, s.farads, s.peak = s.ripple/load, load/slope, c.volts[top]+believedDrop
	s.amperes, s.hertz, s.halfWave = o.LoadAmperes, c.hertz, o.HalfWave
	s.bins, s.inside, s.mostCycles, s.settledWithin = n, max(1, 800/n), 40, 1e-9
	s.circuit.phase = -math.Pi * float64(top) / float64(n)
	if o.HalfWave {
		s.circuit.phase *= 2
	}
	return s, nil
}

// problem poses the fit of the circuit to the mean cycle. The last residual is the
// belief about the diodes, with the weight of a reading of the noise.
func (s circuitStart) problem(c cycle) problem {
	n := len(c.volts)
	scratch := make([]float64, n)
	noise := max(c.noise, 1e-4*s.ripple)
	return problem{
		points: n + 1, params: circuitFigures, freedom: n + 1 - circuitFigures, scale: s.ripple * s.ripple * float64(n), patience: 40,
		residuals: func(p, r []float64) {
			s.with(p).ripple(scratch)
			for i, v := range c.volts {
				r[i] = v - scratch[i]
			}
			r[n] = (believedDrop - p[atDrop]) * noise / believedDropSD
		},
	}
}

func (s circuitStart) with(p []float64) circuit {
	c := s.circuit
	c.peak, c.phase, c.drop = p[atPeak], p[atPhase], p[atDrop]
	c.source, c.farads, c.esr = math.Exp(p[atSource]), math.Exp(p[atFarads]), math.Exp(p[atESR])
	return c
}

// take takes the figures over; the load's uncertainty scales all three.
func (f *RippleFit) take(s solution, c cycle, start circuitStart, o RippleOptions) {
	figure := func(at int) Estimate {
		value := math.Exp(s.p[at])
		return Estimate{Value: value, U: value * s.u(at)}.times(o.loadShare())
	}
	f.Capacitance, f.ESR, f.Source = figure(atFarads), figure(atESR), figure(atSource)
	// Diodes are softer than the circuit's; that is read as resistance of either. And
	// an edge is known to a part of a bin, in which charging changes the voltage.
	bin := 1 / (c.hertz * float64(len(c.volts)))
	f.ESR.U = math.Hypot(math.Hypot(f.ESR.U, softDiodes*f.Source.Value), bin/(2*f.Capacitance.Value))
	f.ResidualVolts = math.Sqrt(s.squares / float64(len(c.volts)))
	f.tellESR(start)
}

// tellESR leaves the ESR out where its uncertainty is a third of itself or more.
func (f *RippleFit) tellESR(s circuitStart) {
	if !(f.ESR.U < f.ESR.Value/3) {
		f.ESRBelow = min(f.ESR.Value+2*f.ESR.U, s.ohms) // it makes no more than all of the ripple
		f.Findings = append(f.Findings, find(codeESRNotTold, checks.Borderline, ohm(f.ESRBelow)))
		f.ESR = unknown()
	}
}
