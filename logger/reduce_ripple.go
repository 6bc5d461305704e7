package logger

import (
	"fmt"
	"math"

	"soakline/checks"
	"soakline/checks/reservoir"
	"soakline/checks/supply"
	"soakline/device"
)

// beside is what a record is reduced with that it does not hold itself.
type beside struct {
	// load is the current drawn from a reservoir capacitor, A with one standard
	// uncertainty; NaN where it is not known. missed tells that it was looked for.
	load   reservoir.Estimate
	missed bool
	// accuracy is the instrument's clause for volts from peak to peak.
	accuracy device.Accuracy
}

// besideOf is what is known of a test point's record without reading anything: the
// load as the sheet gives it, its tolerance taken as the half width of a rectangular
// distribution (JCGM 100:2008, 4.3.7).
func besideOf(point checks.TestPoint) beside {
	with := beside{load: reservoir.Estimate{Value: math.NaN(), U: math.NaN()}}
	if plan := point.Reservoir; plan != nil && plan.LoadAt == "" {
		with.load = reservoir.Estimate{Value: plan.LoadAmperes, U: plan.LoadAmperes * plan.LoadTolerance / math.Sqrt(3)}
	}
	return with
}

// read takes over the load that was read beside the record.
func (w *beside) read(r device.Reading) {
	w.load = reservoir.Estimate{Value: r.Value, U: r.StandardUncertainty}
}

// reduceRipple measures the ripple of a reservoir capacitor, and the capacitor by it
// where the load is known.
func reduceRipple(record device.Capture, point checks.TestPoint, with beside) (reduction, error) {
	plan := *point.Reservoir
	rail, err := supply.Analyse(supply.FromCapture(record), supply.Options{MainsHertz: plan.MainsHertz, HalfWave: plan.HalfWave, Limits: rippleLimits(point)})
	if err != nil {
		return reduction{}, err
	}
	ripple, gain := rail.RipplePeakToPeakVolts.Value, 0.0
	scale := checks.FromAccuracy(with.accuracy, ripple, record.StepVolts)
	if ripple > 0 {
		gain = scale / ripple
	}
	r := reduction{findings: rail.Findings}
	r.ripple(device.Ripple, record, rail.RipplePeakToPeakVolts, scale)
	r.ripple(device.ACVoltage, record, rail.RippleRMSVolts, gain*rail.RippleRMSVolts.Value)
	r.ripple(device.Frequency, record, rail.RippleHertz, 0)
	if record.Coupling != "ac" {
		r.ripple(device.DCVoltage, record, rail.DCVolts, gain*math.Abs(rail.DCVolts.Value))
	}
	r.readings = append(r.readings, peakToPeak(record, device.PeakToPeak))
	if !(with.load.Value > 0) {
		if !with.missed {
			return r, nil
		}
		found, err := captureFindings.Find(codeLoadNotKnown, checks.Borderline, string(plan.LoadAt))
		r.findings = append(r.findings, found)
		return r, err
	}
	fit, err := capacitorOf(record, rail, with.load)
	if err != nil {
		return reduction{}, err
	}
	r.findings = append(r.findings, fit.Findings...)
	r.ripple(device.Capacitance, record, supply.Measured(fit.Capacitance), gain*fit.Capacitance.Value)
	r.ripple(device.SeriesResistance, record, supply.Measured(fit.ESR), gain*fit.ESR.Value)
	return r, nil
}

// ripple enters a figure, if it was measured, with what the instrument's own scale
// adds to its uncertainty. A figure of a single cycle has no spread of its own.
func (r *reduction) ripple(m device.Measure, record device.Capture, figure supply.Measured, scale float64) {
	if !figure.OK() {
		return
	}
	own := figure.U
	if math.IsNaN(own) {
		own = 0
	}
	r.readings = append(r.readings, device.Reading{Measure: m, At: record.At, Value: figure.Value, StandardUncertainty: math.Hypot(own, scale)})
}

// capacitorOf finds the capacitor behind a ripple that comes from the mains.
func capacitorOf(record device.Capture, rail supply.Result, load reservoir.Estimate) (reservoir.RippleFit, error) {
	if !rail.FullWave && !rail.HalfWave {
		return reservoir.NoMainsRipple(), nil
	}
	fit, err := reservoir.FitRipple(record.Volts, record.SampleIntervalSeconds, reservoir.RippleOptions{
		LoadAmperes: load.Value, LoadU: load.U, RippleHertz: rail.RippleHertz.Value, HalfWave: rail.HalfWave})
	if err != nil {
		return fit, fmt.Errorf("a load of %s: %w", checks.Figure(load.Value, load.U, device.Ampere), err)
	}
	return fit, nil
}

// rippleLimits are those of the test point's own checks.
func rippleLimits(point checks.TestPoint) supply.Limits {
	var limits supply.Limits
	for _, check := range point.Checks {
		switch check.Measure {
		case device.Ripple:
			set(&limits.RipplePeakToPeakVolts, check.Limit.High)
		case device.DCVoltage:
			set(&limits.LowVolts, check.Limit.Low)
			set(&limits.HighVolts, check.Limit.High)
		}
	}
	return limits
}
