package reservoir

import (
	"fmt"
	"math"

	"soakline/checks"
)

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
	f := nothingFitted()
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

func nothingFitted() RippleFit {
	return RippleFit{Capacitance: unknown(), ESR: unknown(), Source: unknown(), ESRBelow: math.NaN(), Hertz: math.NaN(), ResidualVolts: math.NaN()}
}

// NoMainsRipple is the fit of a record whose ripple does not come from the mains.
func NoMainsRipple() RippleFit {
	return nothingFitted().not("it holds no ripple at the mains frequency or twice that")
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

// Beliefs that keep the fit where circuits are: diodes take off about a volt, and
// resistances are a tenth of the ripple over the load, give or take a factor of 20.
const (
	believedDrop   = 1.0 // V
	believedDropSD = 0.7 // V
	believedShare  = 0.1 // of the ripple over the load
	believedFolds  = 3.0 // one standard deviation, in factors of e
	beliefs        = 3
	softDiodes     = 0.04 // ESR mistaken for soft diodes, as a share of the source's resistance
	mostLeft       = 0.03 // rms of the residuals as a share of the ripple's
)

// fitCircuit fits from several starts and keeps the nearest.
func fitCircuit(c cycle, s circuitStart) (best solution, reason string) {
	found := false
	for _, esr := range []float64{0.02, 0.15, 0.6} {
		q := s.problem(c)
		start := []float64{s.peak, s.phase, math.Log(0.1 * s.ohms), math.Log(s.farads), math.Log(esr * s.ohms), believedDrop}
		one, err := q.solve(start)
		if err == nil && (!found || one.squares < best.squares) {
			best, found = one, true
		}
	}
	if !found {
		return best, "no circuit fits it"
	}
	if left := math.Sqrt(best.squares / float64(len(c.volts))); left > mostLeft*s.ripple/math.Sqrt(12) {
		return best, fmt.Sprintf("the nearest circuit leaves %s rms of it", volt(left))
	}
	return best, ""
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
