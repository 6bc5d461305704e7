package simbench

import (
	"math"
	"testing"
)

// example is the worked case of a 12 V peak winding, 1 A and 4700 uF.
func example(halfWave bool) ReservoirConfig {
	return ReservoirConfig{
		PeakV: 12, CapacitanceF: 4700e-6, LoadA: 1, HalfWave: halfWave,
		RegulatesDownToV: 7, DeadLoadOhm: 1000,
	}
}

// swing is the peak to peak of a shape over one charging period.
func swing(s mainsShape) float64 {
	low, high := math.Inf(1), math.Inf(-1)
	for i := range 200000 {
		v := s.at(float64(i) / 200000 * s.period)
		low, high = min(low, v), max(high, v)
	}
	return high - low
}

func TestRipple(t *testing.T) {
	for _, row := range []struct {
		hz       float64
		half     bool
		want     float64
		simplest float64 // W-20, which overstates
	}{
		{50, false, 1.739344, 2.127660}, {60, false, 1.476820, 1.773050},
		{50, true, 3.690406, 4.255319}, {60, true, 3.116699, 3.546099},
	} {
		s := newMainsShape(example(row.half), row.hz)
		got := swing(s)
		near(t, "ripple (power.md W-22, ideal diode, derived)", got, row.want, 2e-5)
		if got >= row.simplest {
			t.Errorf("ripple %g V is not below I/(2fC) = %g V (W-20)", got, row.simplest)
		}
	}
}

func TestRippleStepOfSeriesResistance(t *testing.T) {
	// W-24: series resistance times the change of the capacitor's current.
	c := example(false)
	c.ESROhm = 0.1
	s := newMainsShape(c, 50)
	before, after := s.at(s.meet-1e-9), s.at(s.meet+1e-9)
	current := c.CapacitanceF * c.PeakV * s.omega * math.Sin(s.omega*(s.period-s.meet))
	near(t, "step where charging begins", after-before, 0.1*(current+1), 1e-3)
}

func TestDischargeThroughAResistance(t *testing.T) {
	// W-30, W-31: 320 V, 100 uF, 220 kohm; t = RC ln(V0/V).
	c := ReservoirConfig{PeakV: 320, CapacitanceF: 100e-6, LoadA: 1e-3, RegulatesDownToV: 320, DeadLoadOhm: 220e3}
	r := newReservoir(c, 50)
	r.powerOff(0) // at a peak
	for _, row := range []struct{ volts, seconds float64 }{
		{120, 21.58}, {70, 33.43}, {60, 36.83}, {42.4, 44.47}, {30, 52.08},
	} {
		near(t, "volts (power.md W-31)", r.at(row.seconds), row.volts, row.volts*5e-4)
	}
}

func TestDischargeAtConstantCurrent(t *testing.T) {
	// I = C dV/dt while the rails regulate: 1 A from 4700 uF is 212.77 V/s.
	r := newReservoir(example(false), 50)
	r.powerOff(0)
	near(t, "after 10 ms", r.at(0.010), 12-0.010/4700e-6, 1e-6)
	knee := 5 * 4700e-6 // from 12 down to 7 V
	near(t, "where the rails let go", r.at(knee), 7, 1e-6)
	near(t, "one time constant later", r.at(knee+4.7), 7*math.Exp(-1), 1e-6)
	if r.powered(-1) != true || r.powered(1) != false {
		t.Error("powered before, not after")
	}
	r.powerOn(2)
	if !r.powered(2) || r.at(2) < 9 {
		t.Errorf("powered on again it shows %g V", r.at(2))
	}
}

func TestDielectricAbsorption(t *testing.T) {
	// W-85: charged long, discharged 10 s through 5 ohm, read later. What comes
	// back is at most what the absorbing branch still holds, shared with the
	// plates; checked against the same circuit stepped in small steps.
	c := example(false)
	c.AbsorptionRatio, c.AbsorptionS, c.DeadLoadOhm = 0.15, 60, 1e9
	r := newReservoir(c, 50)
	r.powerOff(0)
	if !r.clip(1, 5, 10) {
		t.Fatal("the clip was refused")
	}
	low := r.at(11)
	back := r.at(11 + 900)
	near(t, "while shorted", low, 0, 0.1)
	if back < 0.5 || back > 0.15*12 {
		t.Errorf("%g V came back, want some, but no more than 15 %% of 12 V (W-84)", back)
	}
	near(t, "what came back", back, stepped(c), 0.02)
}

// stepped is the absorption circuit by Euler's rule.
func stepped(c ReservoirConfig) float64 {
	d := newDielectric(c)
	v, a, dt := c.PeakV, c.PeakV, 1e-4
	for i := range int(60 / dt) {
		t, out := float64(i)*dt, v/c.DeadLoadOhm
		if t < 1 && v > c.RegulatesDownToV {
			out = c.LoadA
		}
		if t >= 1 && t < 11 {
			out += v / 5
		}
		through := (v - a) / d.branchOhm
		v += dt * (-out - through) / d.plates
		a += dt * through / d.absorbing
	}
	// From here on only the two share what is left.
	return (d.plates*v + d.absorbing*a) / (d.plates + d.absorbing)
}

func TestClipNeedsTheMainsOff(t *testing.T) {
	if newReservoir(example(false), 50).clip(1, 5, 1) {
		t.Error("a clip across a powered reservoir was accepted")
	}
}
