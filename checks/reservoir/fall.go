package reservoir

import (
	"math"
	"slices"
)

// fall is a falling voltage with what was fitted to it.
type fall struct {
	t, v    []float64 // thinned
	segment segment
	curve   curve
	// known tells that there is a curve; straight that the fall is a straight line
	// all along, so that there is no time constant yet.
	known, straight bool
	absorbing       bool
}

const (
	mostPoints = 600 // that a fit is made to
	// believedFloor is how far from 0 V a floor is believed to be, as a share of the
	// first voltage, while the readings can't tell (common practice, no source).
	believedFloor = 0.02
	// wellKnown is the relative uncertainty of a time constant from which on the
	// readings need no belief.
	wellKnown = 0.05
)

// fitFall fits a fall: a straight part, if there is one, and then one or two
// exponentials.
func fitFall(t, v []float64) fall {
	f := fall{}
	f.t, f.v = thin(t, v, mostPoints)
	f.segment = whole(len(f.t))
	if f.explained() {
		return f
	}
	f.split(t, v)
	if f.segment.knee > 0 && !f.segment.steeper && f.absorbsAllAlong() {
		return f
	}
	f.fitAfterKnee()
	return f
}

// explained tells whether one or two exponentials over the whole fall leave nothing
// but noise, so that there is no straight part to look for.
func (f *fall) explained() bool {
	single, err := fitDecay(f.t, f.v, floorBelief{})
	if err != nil || !wellTold(single) {
		return false
	}
	noise := noiseOf(f.v)
	f.curve, f.known = single, true
	if math.Sqrt(single.fit.variance()) <= 1.15*noise && !single.leavesShape(f.t, f.v) {
		return true
	}
	f.absorb(f.t, f.v, noise)
	if math.Sqrt(f.curve.fit.variance()) <= 1.15*noise {
		return true
	}
	f.curve, f.known, f.absorbing = curve{}, false, false
	return false
}

// leavesShape tells whether neighbouring residuals resemble each other more than
// chance has it (one in a hundred), so that there is more to be fitted.
func (c curve) leavesShape(t, v []float64) bool {
	squares, products, before := 0.0, 0.0, 0.0
	for i := range t {
		d := v[i] - c.at(t[i])
		squares += d * d
		products += d * before
		before = d
	}
	return products > 2.3*squares/math.Sqrt(float64(len(t)))
}

// fitAfterKnee fits what follows the straight part, or all of it.
func (f *fall) fitAfterKnee() {
	t, v := f.t[f.segment.knee:], f.v[f.segment.knee:]
	noise := noiseOf(v)
	free, err := fitDecay(t, v, floorBelief{})
	if err == nil && wellTold(free) {
		f.curve, f.known = free, true
		f.absorb(t, v, noise)
		return
	}
	believed, wrong := fitDecay(t, v, floorBelief{sdVolts: believedFloor * math.Abs(v[0]), noiseVolts: noise})
	if wrong != nil || believed.tau().Value <= 0 {
		f.straight = f.segment.knee == 0
		return
	}
	f.curve, f.known = believed, true
	if f.segment.knee == 0 && rather(t, v, believed, noise) {
		f.known, f.straight = false, true
	}
}

func wellTold(c curve) bool {
	tau := c.tau()
	return tau.Value > 0 && tau.U < wellKnown*tau.Value && c.levels[0] > 0
}

// absorb puts two exponentials in the place of one where they are clearly better.
func (f *fall) absorb(t, v []float64, noise float64) {
	two, err := fitTwoDecays(t, v, f.curve)
	if err != nil || !two.asAbsorption() || !betterBy(f.curve.fit, two.fit, len(t), noise) {
		return
	}
	f.curve, f.absorbing = two, true
}

// split thins the readings and finds the straight part. In a long record that may be
// shorter than what is averaged to a point, so the first readings are looked at one
// by one.
func (f *fall) split(t, v []float64) {
	if len(t) > mostPoints {
		if head := splitFall(t[:mostPoints], v[:mostPoints]); head.knee > 0 && !head.steeper {
			restT, restV := thin(t[head.knee:], v[head.knee:], mostPoints)
			f.t, f.v = slices.Concat(t[:head.knee], restT), slices.Concat(v[:head.knee], restV)
			f.segment = head
			f.segment.end, f.segment.squares = len(f.t), math.NaN()
			return
		}
	}
	f.t, f.v = thin(t, v, mostPoints)
	f.segment = splitFall(f.t, f.v)
}

// absorbsAllAlong tells whether two exponentials are nearer to the whole fall than a
// straight part with one exponential after it, and takes them over then.
func (f *fall) absorbsAllAlong() bool {
	single, err := fitDecay(f.t, f.v, floorBelief{})
	if err != nil {
		return false
	}
	two, err := fitTwoDecays(f.t, f.v, single)
	if err != nil || !two.asAbsorption() || !(two.fit.squares <= f.segment.squares) {
		return false
	}
	f.segment = whole(len(f.t))
	f.curve, f.known, f.absorbing = two, true, true
	return true
}

// rather tells whether a straight line is clearly nearer to the readings than an
// exponential towards 0 V, which has as many figures.
func rather(t, v []float64, c curve, noise float64) bool {
	n := float64(len(t))
	least := n * noise * noise
	return n*math.Log((c.fit.squares+least)/(newLineSums(t, v).squares(len(t))+least)) > 10
}

// reaches returns when the fall comes down to a voltage, on the time scale of the
// readings.
func (f fall) reaches(volts float64) Estimate {
	for i := 1; i <= f.segment.knee && i < len(f.v); i++ {
		if f.v[i] <= volts && f.v[i-1] > volts {
			return Estimate{Value: crossing(f.t[i-1], f.v[i-1], f.t[i], f.v[i], volts)}
		}
	}
	if !f.known {
		return unknown()
	}
	return f.curve.reaches(volts)
}

// crossing interpolates between two readings.
func crossing(t1, v1, t2, v2, volts float64) float64 {
	return t1 + (t2-t1)*(v1-volts)/(v1-v2)
}
