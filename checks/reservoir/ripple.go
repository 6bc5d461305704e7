package reservoir

import (
	"errors"
	"fmt"
	"math"
)

// RippleFigures are what a capacitance is found from without a record: a ripple
// read off a screen, and what is known about the supply.
type RippleFigures struct {
	// RippleVolts is peak to peak, with its standard uncertainty. It must not hold
	// a step from series resistance (W-24).
	RippleVolts, RippleU float64
	// PeakVolts is the top of the ripple.
	PeakVolts float64
	// One of LoadAmperes (constant current) and LoadOhms is above 0; LoadU is the
	// standard uncertainty of that one.
	LoadAmperes, LoadOhms, LoadU float64
	MainsHertz                   float64
	// HalfWave charges once a mains period instead of twice.
	HalfWave bool
}

// Validate says what is wrong with the figures, all of it at once.
func (g RippleFigures) Validate() error {
	var wrong []error
	above0 := func(key string, value float64) {
		if !(value > 0) || math.IsInf(value, 0) {
			wrong = append(wrong, fmt.Errorf("%s is %v, wanted above 0", key, value))
		}
	}
	above0("ripple_v", g.RippleVolts)
	above0("peak_v", g.PeakVolts)
	above0("mains_hz", g.MainsHertz)
	if g.RippleVolts >= g.PeakVolts {
		wrong = append(wrong, fmt.Errorf("ripple_v is %v, wanted below peak_v %v", g.RippleVolts, g.PeakVolts))
	}
	if (g.LoadAmperes > 0) == (g.LoadOhms > 0) || !finite(g.LoadAmperes+g.LoadOhms) {
		wrong = append(wrong, errors.New("wanted the load as a current or as a resistance, one of them above 0"))
	}
	if !(g.RippleU >= 0) || !(g.LoadU >= 0) {
		wrong = append(wrong, errors.New("an uncertainty is below 0"))
	}
	return errors.Join(wrong...)
}

// RippleCapacitance is what a ripple says about the capacitor, in farad, by each
// form.
type RippleCapacitance struct {
	// SimpleFarads is the rule of thumb C = I T/dV (W-20), which says too much by
	// a fifth to a half; BetterFarads takes the charging time off (W-21).
	SimpleFarads, BetterFarads float64
	// Farads is by the form that fits the load: exact for constant current (W-22),
	// resistive for a resistance (W-23), with its standard uncertainty.
	Farads Estimate
	// ConductionSeconds is how long each charging pulse lasts, up to the top.
	ConductionSeconds float64
}

// CapacitanceFromRipple solves the forms W-20 to W-23 for the capacitance. The
// charging pulse begins where the rising sine meets the bottom of the ripple,
// tc = arccos(1 - dV/Vp)/(2 pi f) before the top.
func CapacitanceFromRipple(g RippleFigures) (RippleCapacitance, error) {
	if err := g.Validate(); err != nil {
		return RippleCapacitance{}, fmt.Errorf("capacitance from ripple: %w", err)
	}
	amperes := g.LoadAmperes
	if g.LoadOhms > 0 {
		amperes = g.PeakVolts / g.LoadOhms
	}
	falls := g.period() - g.charging()
	c := RippleCapacitance{
		SimpleFarads: amperes * g.period() / g.RippleVolts, BetterFarads: amperes * falls / g.RippleVolts,
		ConductionSeconds: g.charging(),
	}
	more := g
	more.RippleVolts *= 1 + 1e-4
	byRipple := (more.farads() - g.farads()) / (1e-4 * g.RippleVolts)
	byLoad := g.farads() / (g.LoadAmperes + g.LoadOhms) // in proportion, or in inverse
	c.Farads = Estimate{Value: g.farads(), U: math.Hypot(byRipple*g.RippleU, byLoad*g.LoadU)}
	return c, nil
}

func (g RippleFigures) period() float64 {
	if g.HalfWave {
		return 1 / g.MainsHertz
	}
	return 1 / (2 * g.MainsHertz)
}

func (g RippleFigures) omega() float64 { return 2 * math.Pi * g.MainsHertz }

func (g RippleFigures) charging() float64 {
	return math.Acos(1-g.RippleVolts/g.PeakVolts) / g.omega()
}

func (g RippleFigures) farads() float64 {
	falls := g.period() - g.charging()
	if g.LoadOhms > 0 {
		return -falls / (g.LoadOhms * math.Log1p(-g.RippleVolts/g.PeakVolts))
	}
	return g.LoadAmperes / g.slope(falls)
}

// slope is how fast the voltage falls, I/C: along a straight line that leaves the
// sine where that falls as fast, Vp w sin(w t0) = I/C, and is at the bottom of the
// ripple when the sine comes up there.
func (g RippleFigures) slope(falls float64) float64 {
	bottom := g.PeakVolts - g.RippleVolts
	low, high := 0.0, g.omega()*g.PeakVolts
	for range 200 {
		slope := low + (high-low)/2
		leave := math.Asin(slope/(g.omega()*g.PeakVolts)) / g.omega()
		if g.PeakVolts*math.Cos(g.omega()*leave)-slope*(falls-leave) > bottom {
			low = slope
		} else {
			high = slope
		}
	}
	return high
}
