package pulse

import (
	"fmt"
	"math"
)

// Region is the part of the waveform next to a transition.
type Region string

// The two regions (IEEE 181, 5.3.5).
const (
	PreTransition  Region = "pre-transition"
	PostTransition Region = "post-transition"
)

// Aberration is how far the waveform strays from the nearby state level in one
// region of one transition. Words go by direction, for both edges: overshoot is
// above the level, undershoot below it. What bench scopes call a negative
// overshoot after a falling edge is an undershoot here, and what they call
// preshoot lies in the pre-transition region.
type Aberration struct {
	Edge   Edge
	Region Region
	// OvershootPercent and UndershootPercent are the largest excursions above and
	// below the state level, in percent of the amplitude; both at least 0.
	OvershootPercent, UndershootPercent float64
	// OvershootSeconds and UndershootSeconds are the instants of the two.
	OvershootSeconds, UndershootSeconds float64
	// FromSeconds and ToSeconds bound the region that was looked at.
	FromSeconds, ToSeconds float64
	// Truncated tells that the record ended before the region did.
	Truncated bool
}

// AberrationOptions say how long a region is. The zero value is the usual one.
type AberrationOptions struct {
	// Durations is the region's length in transition durations; 0 means 3.
	Durations float64
	// TolerancePercent is the half width of a state's boundary in percent of the
	// amplitude; 0 means 2.
	TolerancePercent float64
}

func (o AberrationOptions) withDefaults() AberrationOptions {
	if o.Durations <= 0 {
		o.Durations = 3
	}
	if o.TolerancePercent <= 0 {
		o.TolerancePercent = 2
	}
	return o
}

// Aberrations returns what lies before and after transition t of v, dt seconds
// between samples, with the states l. The pre-transition region ends where the
// waveform last leaves the first state's boundary, the post-transition region
// begins where it first enters the second's. The way out of and into a state is no
// aberration: on the side of the transition, only what comes before the waveform
// last leaves or after it first reaches the level itself counts. A region in which
// there is no sample is truncated and its figures are NaN.
func Aberrations(v []float64, dt float64, l Levels, t Transition, options AberrationOptions) (pre, post Aberration, err error) {
	if err := checkRecord(v, dt); err != nil {
		return pre, post, fmt.Errorf("aberrations: %w", err)
	}
	if t.Before < 0 || t.After >= len(v) || t.Before >= t.After {
		return pre, post, fmt.Errorf("aberrations: %w: the transition is not in the record", ErrTooShort)
	}
	o := options.withDefaults()
	first, second := l.Low, l.High
	if t.Edge == Falling {
		first, second = second, first
	}
	band := o.TolerancePercent / 100 * l.Amplitude()
	length := o.Durations * t.DurationSeconds

	exit := t.Before
	for exit > 0 && math.Abs(v[exit]-first) > band && !beyond(v[exit], first, second) {
		exit--
	}
	entry := t.After
	for entry < len(v)-1 && math.Abs(v[entry]-second) > band && !beyond(v[entry], second, first) {
		entry++
	}
	end := float64(exit) * dt
	begin := float64(entry) * dt
	w := window{v: v, dt: dt, amplitude: l.Amplitude(), edge: t.Edge}
	pre = w.measure(PreTransition, first, end-length, end)
	post = w.measure(PostTransition, second, begin, begin+length)
	return pre, post, nil
}

// beyond tells whether x lies on the side of state that is away from other.
func beyond(x, state, other float64) bool { return (x-state)*(other-state) < 0 }

// window is a transition's surroundings.
type window struct {
	v             []float64
	dt, amplitude float64
	edge          Edge
}

// measure compares the samples from one instant to another with level.
func (w window) measure(r Region, level, from, to float64) Aberration {
	a := Aberration{Edge: w.edge, Region: r, FromSeconds: from, ToSeconds: to}
	last := float64(len(w.v) - 1)
	a.Truncated = from < -w.dt/2 || to > (last+0.5)*w.dt
	begin := int(math.Ceil(math.Max(from/w.dt, 0) - 1e-6))
	end := int(math.Floor(math.Min(to/w.dt, last) + 1e-6))
	if begin > end {
		a.Truncated = true
		a.OvershootPercent, a.UndershootPercent = math.NaN(), math.NaN()
		a.OvershootSeconds, a.UndershootSeconds = math.NaN(), math.NaN()
		return a
	}
	a.FromSeconds, a.ToSeconds = math.Max(from, 0), math.Min(to, last*w.dt)

	// sign points away from the transition: up after a rising and before a falling
	// edge, down otherwise.
	sign := 1.0
	if (w.edge == Rising) == (r == PreTransition) {
		sign = -1
	}
	outward := w.farthest(begin, end, sign)
	b, e := w.withoutWay(r, level, sign, begin, end)
	inward := w.farthest(b, e, -sign)
	over, under := outward, inward
	if sign < 0 {
		over, under = inward, outward
	}
	a.OvershootPercent = 100 * math.Max(0, w.v[over]-level) / w.amplitude
	a.UndershootPercent = 100 * math.Max(0, level-w.v[under]) / w.amplitude
	a.OvershootSeconds, a.UndershootSeconds = float64(over)*w.dt, float64(under)*w.dt
	return a
}

// withoutWay narrows begin to end so that the way into or out of the state, which
// lies on the other side of level than sign, is left out.
func (w window) withoutWay(r Region, level, sign float64, begin, end int) (int, int) {
	reached := func(i int) bool { return sign*(w.v[i]-level) >= 0 }
	if r == PostTransition {
		for begin < end && !reached(begin) {
			begin++
		}
		return begin, end
	}
	for end > begin && !reached(end) {
		end--
	}
	return begin, end
}

// farthest returns the largest sample for sign 1, the smallest for sign -1.
func (w window) farthest(begin, end int, sign float64) int {
	best := begin
	for i := begin + 1; i <= end; i++ {
		if sign*w.v[i] > sign*w.v[best] {
			best = i
		}
	}
	return best
}
