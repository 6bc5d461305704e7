package reservoir

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"soakline/checks"
)

// readings are those of a meter: at every interval from 0 to span, of a voltage
// with normal noise of sd, from a seed.
func readings(at func(t float64) float64, span, interval, sd float64, seed uint64) (t, v []float64) {
	random := rand.New(rand.NewPCG(seed, 7))
	for i := 0; float64(i)*interval <= span; i++ {
		x := float64(i) * interval
		t = append(t, x)
		v = append(v, at(x)+sd*random.NormFloat64())
	}
	return t, v
}

func decayOf(v0, tau, floor float64) func(float64) float64 {
	return func(t float64) float64 { return floor + (v0-floor)*math.Exp(-t/tau) }
}

func has(findings []checks.Finding, code checks.FindingCode) bool {
	return slices.ContainsFunc(findings, func(f checks.Finding) bool { return f.Code == code })
}

func analysed(t *testing.T, seconds, volts []float64, o DischargeOptions) Discharge {
	t.Helper()
	d, err := AnalyseDischarge(seconds, volts, o)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// The times that W-31 gives for 320 V, 100 uF and 220 kohm (derived, V = V0
// exp(-t/RC)), without and with a curve fitted to readings of the first 12 s.
func TestW31SecondsToFall(t *testing.T) {
	seconds, volts := readings(decayOf(320, 22, 0), 12, 0.25, 0.01, 1)
	for _, row := range []struct{ below, seconds float64 }{{120, 21.58}, {70, 33.43}, {60, 36.83}, {42.4, 44.47}, {30, 52.08}} {
		near(t, "W-31", SecondsToFall(320, row.below, 100e-6, 220e3), row.seconds, 0.01/row.seconds)
		d := analysed(t, seconds, volts, DischargeOptions{BelowVolts: row.below, LoadOhms: 220e3, MeterOhms: math.Inf(1)})
		near(t, "W-31, fitted", d.SecondsToBelow.Value, row.seconds, 0.01)
		near(t, "W-31, capacitance", d.Capacitance.Value, 100e-6, 0.01)
	}
	if !math.IsNaN(SecondsToFall(320, 0, 100e-6, 220e3)) {
		t.Error("0 V is never met")
	}
}

// W-30: what is left after one to five time constants (derived).
func TestW30WhatIsLeft(t *testing.T) {
	for n, left := range map[float64]float64{1: .36788, 2: .13534, 3: .04979, 4: .01832, 5: .00674} {
		near(t, "W-30", SecondsToFall(1, left, 1e-6, 1e6), n, 1e-3)
	}
}

// W-32: 320 V on 100 uF; W-36: 4.4 uF at 80 V (derived).
func TestW32W36StoredCharge(t *testing.T) {
	near(t, "W-32 energy", StoredJoules(100e-6, 320), 5.12, 1e-9)
	near(t, "W-32 charge", StoredCoulombs(100e-6, 320), 32e-3, 1e-9)
	near(t, "W-36 charge", StoredCoulombs(4.4e-6, 80), 352e-6, 1e-9)
	near(t, "W-36 energy", StoredJoules(4.4e-6, 80), 14.1e-3, 0.01)
}

// W-33: 1 kohm at 320 V; W-70: 1000 uF with a loss factor of 0.14 (derived).
func TestW33W70Resistors(t *testing.T) {
	amperes, watts := DischargeResistor(320, 1000)
	near(t, "W-33 current", amperes, 0.32, 1e-9)
	near(t, "W-33 power", watts, 102.4, 1e-9)
	near(t, "W-70 at 120 Hz", SeriesOhms(0.14, 120, 1000e-6), 0.18568, 1e-4)
	near(t, "W-70 at 100 Hz", SeriesOhms(0.14, 100, 1000e-6), 0.22282, 1e-4)
}

// W-34: 320 to 200 V in 10 s with 220 kohm is 96.71 uF; with the meter of W-35
// beside it, 2.2 % more.
func TestW34CapacitanceFromDecay(t *testing.T) {
	near(t, "W-34", CapacitanceFromDecay(320, 200, 10, 220e3, math.Inf(1)), 96.71e-6, 1e-4)
	near(t, "W-35", CapacitanceFromDecay(320, 200, 10, 220e3, 10e6), 96.71e-6*1.022, 1e-4)
	if !math.IsNaN(CapacitanceFromDecay(200, 200, 10, 220e3, 10e6)) {
		t.Error("a voltage that does not fall has no capacitance")
	}
}

// A meter's own 10 Mohm is a load (W-35): 1 uF behind 1 Mohm falls with 0.909 s.
func TestMetersOwnResistanceIsALoad(t *testing.T) {
	tau := 1e-6 * 1e6 * 10e6 / 11e6
	seconds, volts := readings(decayOf(50, tau, 0), 3, 0.02, 1e-3, 2)
	d := analysed(t, seconds, volts, DischargeOptions{LoadOhms: 1e6})
	near(t, "capacitance", d.Capacitance.Value, 1e-6, 0.002)
	if !has(d.Findings, codeMeterLoads) {
		t.Error("not said that the meter loads")
	}
	d = analysed(t, seconds, volts, DischargeOptions{CapacitanceFarads: 1e-6})
	near(t, "load", d.Load.Value, 1e6, 0.003)
	d = analysed(t, seconds, volts, DischargeOptions{LoadOhms: 1e6, MeterOhms: math.Inf(1)})
	near(t, "capacitance without a meter", d.Capacitance.Value, 0.909e-6, 0.002)
}

func TestFloor(t *testing.T) {
	seconds, volts := readings(decayOf(12, 41, 0.4), 160, 0.5, 1e-3, 3)
	d := analysed(t, seconds, volts, DischargeOptions{BelowVolts: 0.3})
	near(t, "tau", d.Tau.Value, 41, 0.002)
	near(t, "floor", d.Floor.Value, 0.4, 0.02)
	if d.SecondsToBelow.OK() || !has(d.Findings, codeStays) {
		t.Errorf("0.3 V is below the floor: %+v", d.SecondsToBelow)
	}
}

// The standard error is one: over many seeds the error of tau divided by it has a
// standard deviation of 1 (JCGM 100:2008, 5.1.2).
func TestStandardErrorIsHonest(t *testing.T) {
	const many = 100
	squares := 0.0
	for seed := range uint64(many) {
		seconds, volts := readings(decayOf(12, 41, 0.1), 100, 1, 5e-3, seed)
		d := analysed(t, seconds, volts, DischargeOptions{})
		squares += math.Pow((d.Tau.Value-41)/d.Tau.U, 2)
	}
	if sd := math.Sqrt(squares / many); sd < 0.85 || sd > 1.2 {
		t.Errorf("the error of tau is %.2f times what its uncertainty says", sd)
	}
}

// dropout is a real console: constant current to the knee, then a dead load.
func dropout(t float64) float64 {
	const amperesPerFarad, knee = 95.7, 8.31
	t -= 0.3
	atKnee := (11.4 - knee) / amperesPerFarad
	switch {
	case t < 0:
		return 11.4
	case t < atKnee:
		return 11.4 - amperesPerFarad*t
	default:
		return knee * math.Exp(-(t-atKnee)/41)
	}
}

// A regulator's dropout makes the fall a straight line first: tau is that of the
// exponential part.
func TestConstantCurrentBeforeTheExponential(t *testing.T) {
	for _, row := range []struct {
		name           string
		at             func(float64) float64
		span, interval float64
		tau, slope     float64
	}{
		{"slow straight part", func(t float64) float64 {
			if t < 10 {
				return 12 - 0.4*t
			}
			return 8 * math.Exp(-(t-10)/25)
		}, 80, 0.25, 25, 0.4},
		{"straight part that becomes a faster fall at its end", func(t float64) float64 {
			if t < 20 {
				return 12 - 0.2*t
			}
			return 8 * math.Exp(-(t-20)/41)
		}, 120, 0.5, 41, 0.2},
		{"a console's: a tenth of a second and then minutes", dropout, 90, 0.005, 41, 95.7},
	} {
		t.Run(row.name, func(t *testing.T) {
			seconds, volts := readings(row.at, row.span, row.interval, 1e-3, 5)
			d := analysed(t, seconds, volts, DischargeOptions{BelowVolts: 2})
			near(t, "tau", d.Tau.Value, row.tau, 0.01)
			near(t, "straight part", d.AmperesPerFarad, row.slope, 0.02)
			if !has(d.Findings, codeConstantCurrent) {
				t.Error("not said")
			}
		})
	}
}

func TestExponentialHasNoStraightPart(t *testing.T) {
	for seed := range uint64(30) {
		seconds, volts := readings(decayOf(12, 41, 0.1), 100, 0.5, 3e-3, seed)
		if d := analysed(t, seconds, volts, DischargeOptions{}); has(d.Findings, codeConstantCurrent) || has(d.Findings, codeLoadPutOn) || has(d.Findings, codeAbsorption) {
			t.Errorf("seed %d: %+v", seed, d.Findings)
		}
	}
}

func TestStraightAllAlong(t *testing.T) {
	seconds, volts := readings(func(t float64) float64 { return 12 - 0.05*t }, 60, 0.5, 1e-3, 5)
	d := analysed(t, seconds, volts, DischargeOptions{BelowVolts: 2, LoadAmperes: 235e-6})
	if d.Tau.OK() || !has(d.Findings, codeStraight) || d.SecondsToBelow.OK() {
		t.Errorf("a straight line has no time constant: %+v", d)
	}
	near(t, "capacitance from the constant current", d.Capacitance.Value, 4700e-6, 0.01)
}

func TestLoadPutOnLater(t *testing.T) {
	seconds, volts := readings(func(t float64) float64 {
		if t < 30 {
			return 12 * math.Exp(-t/400)
		}
		return 12 * math.Exp(-30.0/400) * math.Exp(-(t-30)/4)
	}, 60, 0.25, 1e-3, 5)
	d := analysed(t, seconds, volts, DischargeOptions{})
	near(t, "tau", d.Tau.Value, 4, 0.02)
	if !has(d.Findings, codeLoadPutOn) || has(d.Findings, codeConstantCurrent) {
		t.Errorf("%+v", d.Findings)
	}
}

// Dielectric absorption brings 1 to 6 % of the voltage back after a discharge.
func TestReboundAfterDischarge(t *testing.T) {
	for _, share := range []float64{0.01, 0.04, 0.06} {
		at := func(t float64) float64 {
			if t < 20 {
				return 12 * math.Exp(-t/2)
			}
			return 12*math.Exp(-10) + 12*share*(1-math.Exp(-(t-20)/60))
		}
		seconds, volts := readings(at, 200, 0.5, 1e-3, 9)
		d := analysed(t, seconds, volts, DischargeOptions{BelowVolts: 0.3})
		near(t, "rebound", d.Rebound.Value, 12*share*(1-math.Exp(-3)), 0.05)
		near(t, "tau", d.Tau.Value, 2, 0.01)
		if !has(d.Findings, codeComesBack) {
			t.Error("not said that the voltage comes back")
		}
	}
	seconds, volts := readings(decayOf(12, 10, 0), 200, 0.5, 1e-3, 9)
	if d := analysed(t, seconds, volts, DischargeOptions{}); d.Rebound.Value != 0 || has(d.Findings, codeComesBack) {
		t.Errorf("noise at the end came back as %v", d.Rebound)
	}
}

func TestBleederMayBeOpen(t *testing.T) {
	seconds, volts := readings(decayOf(12, 410, 0), 900, 2, 1e-3, 11)
	d := analysed(t, seconds, volts, DischargeOptions{ExpectedTauSeconds: 41})
	if !has(d.Findings, codeSlow) {
		t.Errorf("%+v", d.Findings)
	}
	if d := analysed(t, seconds, volts, DischargeOptions{ExpectedTauSeconds: 400}); has(d.Findings, codeSlow) {
		t.Error("as expected, but found slow")
	}
}

func TestNegativeSupply(t *testing.T) {
	seconds, volts := readings(decayOf(-12, 41, -0.1), 100, 0.5, 1e-3, 12)
	d := analysed(t, seconds, volts, DischargeOptions{})
	near(t, "tau", d.Tau.Value, 41, 0.01)
	near(t, "v0", d.V0.Value, -12, 0.01)
}

func TestPowerStillOnAtTheBegin(t *testing.T) {
	at := func(t float64) float64 {
		if t < 30 {
			return 12
		}
		return 12 * math.Exp(-(t-30)/41)
	}
	seconds, volts := readings(at, 140, 0.5, 5e-3, 13)
	d := analysed(t, seconds, volts, DischargeOptions{BelowVolts: 2})
	near(t, "begin", d.BeginSeconds, 30, 0.04)
	near(t, "tau", d.Tau.Value, 41, 0.01)
	near(t, "time to 2 V", d.SecondsToBelow.Value, 41*math.Log(6), 0.02)
}

func TestNothingToGoBy(t *testing.T) {
	nan := math.NaN()
	for name, row := range map[string]struct {
		volts []float64
		code  checks.FindingCode
	}{
		"empty":           {nil, codeTooFewReadings},
		"five":            {[]float64{5, 4, 3, 2, 1}, codeTooFewReadings},
		"not numbers":     {[]float64{nan, nan, nan, math.Inf(1), nan, nan, nan, nan}, codeTooFewReadings},
		"flat":            {[]float64{5, 5, 5, 5, 5, 5, 5, 5}, codeNoFall},
		"zero":            {make([]float64, 20), codeNoFall},
		"rising":          {[]float64{1, 2, 3, 4, 5, 6, 7, 8}, codeNoFall},
		"all of it noise": {[]float64{5.01, 4.99, 5.02, 4.98, 5.01, 4.99, 5, 5.02}, codeNoFall},
	} {
		seconds := make([]float64, len(row.volts))
		for i := range seconds {
			seconds[i] = float64(i)
		}
		d := analysed(t, seconds, row.volts, DischargeOptions{BelowVolts: 2, LoadOhms: 1000})
		if !has(d.Findings, row.code) || d.Tau.OK() || d.Capacitance.OK() || d.SecondsToBelow.OK() {
			t.Errorf("%s: %+v", name, d)
		}
	}
	if _, err := AnalyseDischarge([]float64{1}, nil, DischargeOptions{}); err == nil {
		t.Error("lengths differ")
	}
	for _, o := range []DischargeOptions{{BelowVolts: nan}, {LoadOhms: -1}, {MeterOhms: nan}, {LoadOhms: 1, CapacitanceFarads: 1}, {LoadAmperes: math.Inf(1)}} {
		if _, err := AnalyseDischarge(nil, nil, o); err == nil {
			t.Errorf("%+v was accepted", o)
		}
	}
}

func TestReadingsThatCannotBeUsedAreCounted(t *testing.T) {
	seconds, volts := readings(decayOf(12, 41, 0), 100, 0.5, 1e-3, 12)
	volts[10], seconds[20] = math.NaN(), seconds[19]
	d := analysed(t, seconds, volts, DischargeOptions{})
	near(t, "tau", d.Tau.Value, 41, 0.01)
	if !has(d.Findings, codeLeftOut) {
		t.Error("not said")
	}
}

func BenchmarkAnalyseDischarge(b *testing.B) {
	seconds, volts := readings(decayOf(12, 41, 0.1), 100, 0.01, 1e-3, 1)
	for b.Loop() {
		if _, err := AnalyseDischarge(seconds, volts, DischargeOptions{BelowVolts: 2}); err != nil {
			b.Fatal(err)
		}
	}
}
