package reservoir

import (
	"errors"
	"fmt"
	"math"

	"soakline/checks"
)

// StepOptions say what is known about a load that was switched.
type StepOptions struct {
	// StepAmperes is by how much the load rose (or fell, below 0), with its standard
	// uncertainty.
	StepAmperes, StepU float64
	// SourceOhms is the resistance of a source that stays connected beside the
	// capacitor; 0 where unknown, it is then looked for in the record, +Inf for none.
	SourceOhms float64
}

// Validate says what is wrong with the options.
func (o StepOptions) Validate() error {
	var wrong []error
	if o.StepAmperes == 0 || !finite(o.StepAmperes) {
		wrong = append(wrong, fmt.Errorf("step_a is %v, wanted another figure than 0", o.StepAmperes))
	}
	if !(o.StepU >= 0) {
		wrong = append(wrong, fmt.Errorf("step_u_a is %v, wanted 0 or more", o.StepU))
	}
	if !(o.SourceOhms >= 0) {
		wrong = append(wrong, fmt.Errorf("source_ohm is %v, wanted 0 or more", o.SourceOhms))
	}
	return errors.Join(wrong...)
}

// StepFit is what the step of a load says about the capacitor.
type StepFit struct {
	// AtSeconds is when the load stepped, from the first sample; StepVolts what the
	// voltage jumped by at once, with its sign.
	AtSeconds float64
	StepVolts Estimate
	// ReadOhms is the jump over the step of current: the ESR with the source beside
	// it. Source is that source as given or as found from where the voltage settles,
	// ESR the resistance with the source taken out, all in ohm. Capacitance is in
	// farad.
	ReadOhms, Source, ESR, Capacitance Estimate
	Findings                           []checks.Finding
}

// leastStepSide is how many samples there must be on either side of the step.
const leastStepSide = 10

// FitLoadStep finds series resistance and capacitance from a record, in volts at an
// interval in seconds, over which the load steps once: the jump is the step of
// current times the ESR, and the slope from there on that current over the
// capacitance. A source that stays connected shares the step: what is read is the
// ESR parallel with it. Where the voltage settles in the record, the source's
// resistance is found from how far, and is taken out. A record without such a step
// gives a finding and NaN; errors are wrong options.
func FitLoadStep(volts []float64, interval float64, o StepOptions) (StepFit, error) {
	f := StepFit{AtSeconds: math.NaN(), StepVolts: unknown(), ReadOhms: unknown(), Source: unknown(), ESR: unknown(), Capacitance: unknown()}
	if err := o.Validate(); err != nil {
		return f, fmt.Errorf("fit load step: %w", err)
	}
	if !(interval > 0) || math.IsInf(interval, 0) {
		return f, fmt.Errorf("fit load step: sample interval is %v s, wanted above 0", interval)
	}
	for _, v := range volts {
		if !finite(v) || math.Abs(v) > 1e9 {
			return f.not("a sample is not a number"), nil
		}
	}
	at, ok := findStep(volts)
	if !ok {
		return f.not("no jump stands out of the noise"), nil
	}
	f.AtSeconds = float64(at) * interval
	after := fitAfterStep(volts[at:], interval)
	before := extrapolated(volts[max(0, at-mostBefore):at], interval)
	bend := after.slope - before.slope
	// The jump lies anywhere between two samples; both sides are taken half way.
	between := math.Abs(bend) * interval / math.Sqrt(12)
	f.StepVolts = Estimate{Value: after.at0 - before.at0, U: math.Hypot(math.Hypot(after.u0, before.u0), between)}
	if f.StepVolts.Value*o.StepAmperes > 0 || math.Abs(f.StepVolts.Value) < 5*f.StepVolts.U {
		return f.not("the voltage does not jump against the step of current"), nil
	}
	f.take(after, before, o)
	return f, nil
}

func (f StepFit) not(reason string) StepFit {
	f.Findings = append(f.Findings, find(codeNoStep, checks.Borderline, reason))
	return f
}

func (f *StepFit) take(after, before side, o StepOptions) {
	step := Estimate{Value: -o.StepAmperes, U: o.StepU}
	f.ReadOhms = f.StepVolts.over(step)
	f.ESR = f.ReadOhms
	switch {
	case math.IsInf(o.SourceOhms, 1):
	case o.SourceOhms > 0:
		f.Source = Estimate{Value: o.SourceOhms}
	case after.settles:
		f.Source = Estimate{Value: after.end - before.at0, U: f.StepVolts.U}.over(step)
	}
	slope := Estimate{Value: after.slope - before.slope, U: math.Hypot(after.slopeU, before.slopeU)}
	f.Capacitance = step.over(slope)
	if s := f.Source; s.OK() && s.Value > f.ReadOhms.Value {
		// With a source the current into the capacitor is only the part that the
		// source does not give.
		share := 1 - f.ReadOhms.Value/s.Value
		f.ESR = Estimate{Value: f.ReadOhms.Value / share, U: math.Hypot(f.ReadOhms.U, f.ReadOhms.Value*f.ReadOhms.Value/(s.Value*s.Value)*s.U) / (share * share)}
		f.Capacitance.Value *= share * share
		f.Capacitance.U *= share * share
		f.Findings = append(f.Findings, find(codeSourceParallel, checks.Within, ohm(s.Value), ohm(f.ReadOhms.Value)))
	}
}

// findStep returns the first sample after the largest jump, if it stands clear of
// all others.
func findStep(volts []float64) (at int, ok bool) {
	if len(volts) < 2*leastStepSide {
		return 0, false
	}
	most := 0.0
	for i := leastStepSide; i <= len(volts)-leastStepSide; i++ {
		if d := math.Abs(volts[i] - volts[i-1]); d > most {
			at, most = i, d
		}
	}
	return at, most > 8*noiseOf(volts) && most > 0
}

// mostBefore is how many samples before the step are looked at.
const mostBefore = 400

// side is the voltage on one side of the step: a straight line, or after it an
// exponential to where it settles.
type side struct {
	at0, u0       float64 // V at the step
	slope, slopeU float64 // V/s there
	end           float64
	settles       bool
}

// extrapolated follows a straight line to half a sample after the last.
func extrapolated(v []float64, interval float64) side {
	t := make([]float64, len(v))
	for i := range t {
		t[i] = (float64(i-len(v)) + 0.5) * interval
	}
	return straightSide(t, v)
}

// straightSide is a line through the points, taken at 0 s.
func straightSide(t, v []float64) side {
	sums, n := newLineSums(t, v), float64(len(t))
	tt, _, _ := sums.centred(len(t))
	sd := max(math.Sqrt(sums.squares(len(t))/max(1, n-2)), noiseOf(v))
	middle, slope := meanOf(t), sums.slope(len(t))
	return side{
		slope: slope, slopeU: sd / math.Sqrt(tt),
		at0: meanOf(v) - slope*middle, u0: sd * math.Sqrt(1/n+middle*middle/tt), end: math.NaN(),
	}
}

// fitAfterStep fits the samples after the step; the very first, which may lie on the
// edge, is left out.
func fitAfterStep(v []float64, interval float64) side {
	v = v[1:]
	t := make([]float64, len(v))
	for i := range t {
		t[i] = (float64(i+1) + 0.5) * interval
	}
	t, v = thin(t, v, mostPoints)
	line := straightSide(t, v)
	c, err := fitDecay(t, v, floorBelief{})
	if err != nil || !(c.rates[0] > 0) || !(c.fit.u(1) < 0.2*c.rates[0]) || c.fit.squares > newLineSums(t, v).squares(len(t)) {
		return line
	}
	back := math.Exp(c.rates[0] * c.zero)
	level := c.levels[0] * back
	return side{
		at0: c.floor + level, u0: c.fit.propagated([]float64{back, level * c.zero, 1}),
		slope: -c.rates[0] * level, slopeU: c.fit.propagated([]float64{-c.rates[0] * back, -level, 0}),
		end: c.floor, settles: c.rates[0]*t[len(t)-1] > 1,
	}
}
