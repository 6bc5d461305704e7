package reservoir

import (
	"fmt"
	"math"

	"soakline/checks"
)

// Discharge is what a record of a discharge says. What could not be found is NaN.
type Discharge struct {
	// V0 is the voltage where the fall begins, at BeginSeconds of the record.
	V0           Estimate
	BeginSeconds float64
	// KneeSeconds is where a first, straight part of the fall ends; NaN without one.
	// AmperesPerFarad is how fast it falls there: constant current over capacitance.
	KneeSeconds     float64
	AmperesPerFarad float64
	// Tau is the time constant in seconds, Floor the voltage that the fall tends to.
	Tau, Floor Estimate
	// BelowVolts is the voltage asked for, SecondsToBelow the time from the begin of
	// the fall until it is met, and SecondsLeft that from the last reading: 0 if it
	// has been met.
	BelowVolts                  float64
	SecondsToBelow, SecondsLeft Estimate
	// LastVolts is the last reading.
	LastVolts float64
	// Rebound is by how much the voltage rose after its lowest point.
	Rebound Estimate
	// Capacitance is in farad, Load in ohm and without the meter. One follows from
	// the other.
	Capacitance, Load Estimate
	Findings          []checks.Finding
}

// AnalyseDischarge measures a discharge from readings in volts at times in seconds,
// on any zero. The lengths must be equal and the options valid; readings that can't
// be used are counted in a finding.
//
// The fall is taken from the last reading at the upper voltage to the lowest one. A
// straight first part (constant current) is told from the exponential that follows,
// and Tau is that of the exponential only. Its standard error comes from the slopes
// at the solution (JCGM 100:2008, 5.1.2, applied to least squares).
func AnalyseDischarge(seconds, volts []float64, o DischargeOptions) (Discharge, error) {
	if len(seconds) != len(volts) {
		return Discharge{}, fmt.Errorf("analyse discharge: %d times for %d readings", len(seconds), len(volts))
	}
	if err := o.Validate(); err != nil {
		return Discharge{}, fmt.Errorf("analyse discharge: %w", err)
	}
	d := newDischarge(o)
	r := newTrace(seconds, volts)
	if r.leftOut > 0 {
		d.add(codeLeftOut, checks.Borderline, r.leftOut, len(seconds))
	}
	if len(r.v) < leastDecay {
		d.add(codeTooFewReadings, checks.Borderline, len(r.v))
		return d, nil
	}
	d.LastVolts = r.sign * r.v[len(r.v)-1]
	if !r.findFall() {
		d.add(codeNoFall, checks.Outside, volt(r.sign*r.v[0]), volt(d.LastVolts))
		return d, nil
	}
	d.V0 = Estimate{Value: r.sign * r.v[r.begin], U: r.noise}
	d.BeginSeconds = r.t[r.begin]
	f := fitFall(r.t[r.begin:r.lowest+1], r.v[r.begin:r.lowest+1])
	d.takeFall(f, r, o)
	d.takeTimes(f, r, o)
	d.takeParts(o)
	d.takeRebound(r)
	return d, nil
}

func newDischarge(o DischargeOptions) Discharge {
	n := math.NaN()
	d := Discharge{
		V0: unknown(), BeginSeconds: n, KneeSeconds: n, AmperesPerFarad: n, Tau: unknown(), Floor: unknown(),
		BelowVolts: n, SecondsToBelow: unknown(), SecondsLeft: unknown(), LastVolts: n, Rebound: unknown(),
		Capacitance: unknown(), Load: unknown(),
	}
	if o.BelowVolts > 0 {
		d.BelowVolts = o.BelowVolts
	}
	if o.LoadOhms > 0 {
		d.Load = Estimate{Value: o.LoadOhms, U: o.LoadU}
	}
	if o.CapacitanceFarads > 0 {
		d.Capacitance = Estimate{Value: o.CapacitanceFarads, U: o.CapacitanceU}
	}
	return d
}

func (d *Discharge) add(code checks.FindingCode, state checks.State, args ...any) {
	d.Findings = append(d.Findings, find(code, state, args...))
}

// takeFall takes over what was fitted.
func (d *Discharge) takeFall(f fall, r trace, o DischargeOptions) {
	if knee := f.segment.knee; knee > 0 {
		d.KneeSeconds = f.t[knee]
		if f.segment.steeper {
			d.add(codeLoadPutOn, checks.Within, volt(r.sign*f.v[knee]))
		} else {
			d.AmperesPerFarad = -f.segment.lineSlope
			d.add(codeConstantCurrent, checks.Within, second(f.t[knee]-f.t[0]), volt(r.sign*f.v[knee]))
		}
	}
	switch {
	case f.straight:
		slope := newLineSums(f.t, f.v).slope(len(f.t))
		d.AmperesPerFarad = -slope
		d.add(codeStraight, checks.Borderline, volt(-slope))
		return
	case !f.known:
		d.add(codeTooFewReadings, checks.Borderline, len(f.t)-f.segment.knee)
		return
	}
	last := f.t[len(f.t)-1]
	d.Tau = f.curve.tau()
	d.Floor = f.curve.floorEstimate(last)
	d.Floor.Value *= r.sign
	if f.absorbing {
		d.add(codeAbsorption, checks.Within, percent(f.curve.smallShare()))
	}
	if shown := (last - f.curve.zero) / d.Tau.Value; shown < 1 && f.curve.fit.freedom > 0 && !wellTold(f.curve) {
		d.add(codeShort, checks.Borderline, fmt.Sprintf("%.2f", shown))
	}
	if e := o.ExpectedTauSeconds; tooSlow(d.Tau, e) {
		d.add(codeSlow, checks.Outside, secondU(d.Tau), second(e))
	}
}

// slowBy is how many times the expected time constant is too slow: a capacitor may
// have half as much again as its label says (W-67).
const slowBy = 1.5

// tooSlow tells a time constant that is surely longer than it should be; expected is
// 0 where unknown.
func tooSlow(tau Estimate, expected float64) bool {
	return expected > 0 && tau.Value-2*tau.U > slowBy*expected
}

// smallShare is the share of the smaller exponential in the first voltage.
func (c curve) smallShare() float64 {
	return min(c.levels[0], c.levels[1]) / (c.levels[0] + c.levels[1])
}

// takeTimes finds when the voltage asked for is met: as it was read, or as the
// curve foretells.
func (d *Discharge) takeTimes(f fall, r trace, o DischargeOptions) {
	if !(o.BelowVolts > 0) {
		return
	}
	last := r.t[len(r.t)-1]
	if at, ok := r.metFor(o.BelowVolts); ok {
		d.SecondsToBelow = Estimate{Value: max(0, at-d.BeginSeconds)}
		d.SecondsLeft = Estimate{}
		return
	}
	if !f.known {
		return
	}
	at := f.reaches(o.BelowVolts)
	if !at.OK() {
		d.add(codeStays, checks.Outside, volt(o.BelowVolts), volt(d.Floor.Value))
		return
	}
	d.SecondsToBelow = Estimate{Value: at.Value - d.BeginSeconds, U: at.U}
	d.SecondsLeft = Estimate{Value: max(0, at.Value-last), U: at.U}
}

// metFor returns when the readings came below a voltage to stay there until the
// last one.
func (r trace) metFor(volts float64) (at float64, ok bool) {
	n := len(r.v)
	if r.v[n-1] >= volts {
		return 0, false
	}
	i := n - 1
	for i > 0 && r.v[i-1] < volts {
		i--
	}
	if i == 0 {
		return r.t[0], true
	}
	return crossing(r.t[i-1], r.v[i-1], r.t[i], r.v[i], volts), true
}

// takeParts finds the capacitance from a known load, or the load from a known
// capacitance; the meter lies beside the load.
func (d *Discharge) takeParts(o DischargeOptions) {
	meter := o.meter()
	switch {
	case o.LoadOhms > 0 && d.Tau.OK():
		both := parallel(o.LoadOhms, meter)
		// The load's share of the parallel resistance scales its uncertainty.
		d.Capacitance = d.Tau.over(Estimate{Value: both, U: o.LoadU * both * both / (o.LoadOhms * o.LoadOhms)})
		d.tellMeter(meter, both/meter)
	case o.CapacitanceFarads > 0 && d.Tau.OK():
		both := d.Tau.over(d.Capacitance)
		if load := 1 / (1/both.Value - 1/meter); load > 0 && finite(load) {
			d.Load = Estimate{Value: load, U: both.U * load * load / (both.Value * both.Value)}
			d.tellMeter(meter, both.Value/meter)
		}
	case o.LoadAmperes > 0 && finite(d.AmperesPerFarad):
		d.Capacitance = Estimate{Value: o.LoadAmperes / d.AmperesPerFarad, U: math.NaN()}
	}
}

func (d *Discharge) tellMeter(meterOhms, share float64) {
	if share > 0.01 {
		d.add(codeMeterLoads, checks.Within, ohm(meterOhms), percent(share))
	}
}

func (d *Discharge) takeRebound(r trace) {
	d.Rebound = r.rebound
	if d.Rebound.Value > 0 {
		highest := 0.0
		for _, v := range r.v[r.lowest:] {
			highest = max(highest, v)
		}
		state := checks.Borderline
		if highest > d.BelowVolts {
			state = checks.Outside
		}
		d.add(codeComesBack, state, volt(d.Rebound.Value), volt(r.sign*highest))
	}
}
