package supply

import (
	"math"
	"testing"
)

// A second-order start: damping 0.5 overshoots by 16.3034 % (closed form, the
// second-order step response; pulse.md W2).
func TestStartOvershoot(t *testing.T) {
	const natural, damping, on = 200.0, 0.5, 0.05
	at := func(t float64) float64 {
		t -= on
		if t < 0 {
			return 0
		}
		wd := natural * math.Sqrt(1-damping*damping)
		return 5 * (1 - math.Exp(-damping*natural*t)*(math.Cos(wd*t)+damping*natural/wd*math.Sin(wd*t)))
	}
	r := analysed(t, record(at, 0.5, 1e-4, 0), Options{Limits: Limits{StartOvershootPercent: 10, StartSeconds: 0.005}})
	if r.Start == nil {
		t.Fatal("no start found")
	}
	near(t, "overshoot", r.Start.OvershootPercent, 16.3034, 0.01)
	near(t, "begin", r.Start.BeginSeconds, on, 0.06)
	// To 95 % from 10 %, by the same closed form solved numerically.
	near(t, "time to rail", r.Start.ToRailSeconds, (2.281-0.481)/natural, 0.12)
	if !has(r.Findings, codeStartOver) || !has(r.Findings, codeStartSlow) || len(r.Dips) > 0 {
		t.Errorf("%+v %+v", r.Findings, r.Dips)
	}
	near(t, "level", r.DCVolts.Value, 5, 1e-2)
}

func TestAlreadyUpIsNoStart(t *testing.T) {
	for name, at := range map[string]func(float64) float64{
		"up":    func(float64) float64 { return 5 },
		"down":  func(t float64) float64 { return 5 * math.Exp(-t/0.01) },
		"never": func(float64) float64 { return 0 },
	} {
		if r := analysed(t, record(at, 0.2, 1e-4, 0), Options{}); r.Start != nil {
			t.Errorf("%s: %+v", name, r.Start)
		}
	}
}

// A sag of 0.4 V that decays with 2 ms is within 50 mV after 2 ms ln 8 (closed form).
func TestLoadStep(t *testing.T) {
	at := func(t float64) float64 {
		if t < 0.02 {
			return 5
		}
		return 4.98 - 0.4*math.Exp(-(t-0.02)/2e-3)
	}
	s, ok := AnalyseLoadStep(record(at, 0.1, 1e-5, 1e-4).Volts, 1e-5, 0.05)
	if !ok {
		t.Fatal("no step found")
	}
	near(t, "begin", s.BeginSeconds, 0.02, 0.01)
	near(t, "sag", s.SagVolts, 0.42, 0.01)
	near(t, "recovery", s.RecoverySeconds, 2e-3*math.Log(8), 0.02)
	near(t, "change", s.ChangeVolts, -0.02, 0.02)
	up, ok := AnalyseLoadStep(record(func(t float64) float64 { return 10 - at(t) }, 0.1, 1e-5, 1e-4).Volts, 1e-5, 0.05)
	if !ok || up.SagVolts > 0 {
		t.Errorf("a load that goes: %+v", up)
	}
	for name, v := range map[string][]float64{
		"flat": make([]float64, 100), "short": {5, 4, 5}, "a NaN": append(make([]float64, 30), math.NaN()),
	} {
		if s, ok := AnalyseLoadStep(v, 1e-5, 0); ok {
			t.Errorf("%s: %+v", name, s)
		}
	}
	if _, ok := AnalyseLoadStep(make([]float64, 100), math.NaN(), 0); ok {
		t.Error("no interval")
	}
}
