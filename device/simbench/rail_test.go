package simbench

import (
	"math"
	"math/rand/v2"
	"testing"
)

func exampleRail() *rail {
	return &rail{
		config: RailConfig{Name: "rail-5v", NominalV: 5, LoadA: 1, DropoutV: 2, RejectionDB: 73},
		input:  newReservoir(example(false), 50),
	}
}

func recorded(p point, from, seconds float64, n int) []float64 {
	v := make([]float64, n)
	p.fill(v, from, seconds/float64(n), rand.New(rand.NewPCG(3, 4)))
	return v
}

func peakToPeak(v []float64) float64 {
	low, high := sampled{v: v}.extremes()
	return high - low
}

func TestRailRejectsRipple(t *testing.T) {
	// W-05, W-09: 78xx-family data sheet; typical 73 dB is a factor of 4467.
	r := exampleRail()
	near(t, "ripple behind the regulator", peakToPeak(recorded(r, 0, 0.02, 20000)), 1.739344/4466.8, 1e-6)
	r.config.RejectionDB = 62
	near(t, "ripple of the least grade", peakToPeak(recorded(r, 0, 0.02, 20000)), 1.739344/1258.9, 1e-6)
}

func TestRailDropsOut(t *testing.T) {
	// W-06: 2 V at 1 A; with a half-wave trough of 8.3 V it still regulates, with
	// less capacitance it does not.
	r := exampleRail()
	c := example(true)
	r.input = newReservoir(c, 50)
	if low, _ := (sampled{v: recorded(r, 0, 0.02, 2000)}).extremes(); low < 4.99 {
		t.Errorf("it drops to %g V with input to spare", low)
	}
	c.CapacitanceF = 2200e-6
	r.input = newReservoir(c, 50)
	low, high := sampled{v: recorded(r, 0, 0.02, 20000)}.extremes()
	trough := 12 - swing(r.input.shape)
	near(t, "the lowest output", low, trough-2, 1e-3)
	near(t, "the highest output", high, 5, 0.01)
}

func TestRailLoadDriftStepNoise(t *testing.T) {
	r := exampleRail()
	r.config.SourceOhm, r.config.RejectionDB = 0.05, 140
	near(t, "load regulation", mean(recorded(r, 0, 0.02, 100)), 4.95, 1e-6)
	for _, change := range [][]string{{"drift", "-0.006"}, {"step", "-0.1"}} {
		if err := r.fault(change[0], change[1:], 10); err != nil {
			t.Fatal(err)
		}
	}
	near(t, "before the changes", recorded(r, 9.99, 0, 1)[0], 4.95, 1e-6)
	near(t, "20 s into the changes", recorded(r, 30, 0, 1)[0], 4.95-0.1-0.12, 1e-6)
	if err := r.fault("noise", []string{"0.02"}, 40); err != nil {
		t.Fatal(err)
	}
	near(t, "noise", deviation(recorded(r, 50, 0.02, 20000)), 0.02, 0.001)
	if err := r.fault("ripple", []string{"0.5"}, 60); err != nil {
		t.Fatal(err)
	}
	near(t, "ripple rms with noise", deviation(recorded(r, 60, 0.02, 20000)), math.Hypot(0.02, 0.25/math.Sqrt2), 0.003)
}

func TestRailFollowsTheReservoirDown(t *testing.T) {
	r := exampleRail()
	r.input.powerOff(0)
	near(t, "while the reservoir holds", recorded(r, 0.01, 0, 1)[0], 5, 1e-6)
	near(t, "amperes while it holds", r.amperes(0.01), 1, 1e-9)
	if v := recorded(r, 60, 0, 1)[0]; v != 0 {
		t.Errorf("a minute later it shows %g V", v)
	}
}

func TestDemoRailLeavesItsLimit(t *testing.T) {
	c := DemoConfig(t.TempDir())
	for i, want := range []float64{5.017, 4.75} {
		u := newUnit(c.Units[i], c.Seed)
		near(t, u.config.Asset+" after 45 s", mean(recorded(u.points["rail-5v"], 45, 0.02, 100)), want, 2e-3)
	}
}

func TestToneAndWarmth(t *testing.T) {
	a := &tone{config: demoTone("audio-left", 0.316228), input: newReservoir(example(false), 50)}
	// 0.316228 V rms is -10 dBV.
	near(t, "dBV", 20*math.Log10(deviation(recorded(a, 0, 0.1, 48000))), -10, 0.01)
	s := sampled{v: recorded(a, 0, 1, 48000), dt: 1.0 / 48000}
	fundamental, _ := s.correlate(1000)
	second, _ := s.correlate(2000)
	hum, _ := s.correlate(100)
	near(t, "second harmonic", second/fundamental, 0.004, 1e-4)
	near(t, "hum at twice the mains, V rms", hum/math.Sqrt2, 200e-6, 5e-6)
	w := &warmth{config: TemperatureConfig{AmbientCelsius: 20, RiseCelsius: 10, WarmUpS: 100}}
	near(t, "after one time constant", recorded(w, 100, 0, 1)[0], 20+10*(1-math.Exp(-1)), 1e-9)
}
