package video

import (
	"math"

	"soakline/checks/pulse"
)

const (
	// aberrationInterval is the longest sample interval at which overshoot shows
	// (common practice).
	aberrationInterval = 50.5e-9
	// aberrationU is the largest uncertainty, in percent, with which an overshoot
	// still says anything, unless it is a multiple of that.
	aberrationU = 0.75
	// overlaid is the most edges that are laid over each other; half of them do where
	// they are large.
	overlaid = 96
	// mostEdges is how many edges of both directions are looked at.
	mostEdges = 400
	// before and after an edge's 50 % instant, what is looked at.
	beforeEdge, afterEdge = 0.6 * microsecond, 1.2 * microsecond
)

// pictureEdge is a step from one colourless flat to the next on the same line.
type pictureEdge struct {
	edge     pulse.Edge
	at       float64 // 50 % instant in seconds
	from, to float64 // the two levels in volts
	lead     float64 // seconds before at that the first flat lasts
	reach    float64 // seconds after at that the second flat lasts
}

func (e pictureEdge) amplitude() float64 { return math.Abs(e.to - e.from) }

// measureEdges fills in overshoot, undershoot, rise and fall from picture edges:
// blanking to white and back counts, sync and burst do not.
func (a *analysis) measureEdges() {
	r := &a.result
	all := a.pictureEdges()
	rise, over := a.measureEdge(all, pulse.Rising)
	fall, under := a.measureEdge(all, pulse.Falling)
	r.RiseSeconds, r.FallSeconds = rise, fall
	if a.clip.high {
		over = notMeasured()
	}
	r.OvershootPercent, r.UndershootPercent = over, under
	slower := rise
	if !rise.OK() || fall.Value > rise.Value {
		slower = fall
	}
	if slower.OK() {
		hertz := pulse.BandwidthHertz(slower.Value)
		// One pole or a steep filter: 0.35 or 0.34 to 0.45 (common practice).
		r.BandwidthHertz = Measured{Value: hertz, U: hertz * math.Hypot(slower.U/slower.Value, 0.05)}
	}
}

// pictureEdges measures the steps between flats that are large enough, and at most
// mostEdges of them.
func (a *analysis) pictureEdges() []pictureEdge {
	smallest := 0.15 * a.scale() * a.nominal.whiteVolts
	var steps []int
	for i := 1; i < len(a.flats); i++ {
		f, g := a.flats[i-1], a.flats[i]
		if f.region == g.region && !f.coloured && !g.coloured && g.from-f.to <= 1.2*microsecond &&
			math.Abs(g.level-f.level) >= smallest && math.Min(f.relative, g.relative) >= -a.depth/2 {
			steps = append(steps, i)
		}
	}
	var all []pictureEdge
	for _, k := range spaced(len(steps), mostEdges) {
		if e, ok := a.pictureEdge(a.flats[steps[k]-1], a.flats[steps[k]]); ok {
			all = append(all, e)
		}
	}
	return all
}

// pictureEdge finds the instant and the levels of the step from f to g.
func (a *analysis) pictureEdge(f, g flat) (e pictureEdge, ok bool) {
	e = pictureEdge{edge: pulse.Rising, from: f.level, to: g.level}
	if g.level < f.level {
		e.edge = pulse.Falling
	}
	margin := 0.4 * microsecond
	e.at = a.crossing(f.to-margin, g.from+margin, (f.level+g.level)/2, e.edge == pulse.Rising)
	if math.IsNaN(e.at) {
		return e, false
	}
	e.lead, e.reach = e.at-f.from-0.3*microsecond, g.to-e.at-0.15*microsecond
	pre, _ := a.record.between(e.at-math.Min(e.lead, 2*microsecond), e.at-0.3*microsecond)
	settled := math.Min(settle, math.Max(0.3*microsecond, e.reach/2))
	post, _ := a.record.between(e.at+settled, e.at+math.Min(e.reach, 4*microsecond))
	if e.reach < 0.8*microsecond || !a.still(pre, e.amplitude()) || !a.still(post, e.amplitude()) {
		return e, false
	}
	e.from, e.to = mean(pre), mean(post)
	return e, true
}

// still tells whether samples next to an edge keep to a level: pale colour or a slow
// wave would look like ringing.
func (a *analysis) still(v []float64, amplitude float64) bool {
	if len(v) < 3 {
		return false
	}
	_, slope, left := straight(v)
	n := float64(len(v))
	run := math.Abs(slope) * n
	return left <= 2.5*a.sigma*a.sigma+square(0.025*amplitude) && run <= 0.04*amplitude+4*a.sigma*math.Sqrt(12/n)
}

// clearest picks the edges of one direction that tell most: nearly the largest, and
// with a long flat after them if there are such; fewer of them from large volts up.
func clearest(all []pictureEdge, edge pulse.Edge, large float64) []pictureEdge {
	var largest, longest float64
	for _, e := range all {
		if e.edge == edge {
			largest = math.Max(largest, e.amplitude())
		}
	}
	for _, e := range all {
		if e.edge == edge && e.amplitude() >= 0.7*largest {
			longest = math.Max(longest, e.reach)
		}
	}
	var some []pictureEdge
	for _, e := range all {
		if e.edge == edge && e.amplitude() >= 0.7*largest && e.reach >= math.Min(afterEdge, 0.8*longest) {
			some = append(some, e)
		}
	}
	most := overlaid
	if largest >= large {
		most /= 2
	}
	picked := make([]pictureEdge, 0, most)
	for _, i := range spaced(len(some), most) {
		picked = append(picked, some[i])
	}
	return picked
}

// measureEdge lays the clearest edges of one direction over each other, each scaled
// to its own two levels, and measures the mean: transition duration in seconds, and
// how far it goes beyond the second state, in percent.
func (a *analysis) measureEdge(all []pictureEdge, edge pulse.Edge) (duration, beyond Measured) {
	duration, beyond = notMeasured(), notMeasured()
	some := clearest(all, edge, 0.5*a.scale()*a.nominal.whiteVolts)
	if len(some) == 0 {
		return duration, beyond
	}
	o := a.overlay(some)
	levels := pulse.Levels{Low: 0, High: 1}
	t, ok := nearestTransition(o.mean, o.interval, levels, edge)
	if !ok {
		return duration, beyond
	}
	dt := a.record.SampleIntervalSeconds
	noise := a.edgeSigma() / o.amplitude / math.Sqrt(float64(len(some)))
	// Noise also shifts each edge by sigma/slope, which widens their mean.
	shift := 2.56 * noise * math.Sqrt(float64(len(some))) / 0.8
	duration = a.withoutScope(Measured{
		Value: t.DurationSeconds,
		U:     math.Hypot(0.15*dt/math.Sqrt(float64(len(some))), t.DurationSeconds*math.Hypot(noise+shift*shift/2, 0.02)),
	})
	if dt > aberrationInterval {
		if duration.Value < 2*dt {
			duration = notMeasured()
		}
		return duration, beyond
	}
	// What an edge within a sample does can't be told from what sampling makes of it.
	if t.DurationSeconds < 1.15*dt {
		return duration, beyond
	}
	beyond = o.beyond(levels, t, noise)
	beyond.U = math.Hypot(beyond.U, 0.5*dt/40e-9)
	if !(beyond.U <= aberrationU) && !(beyond.Value > 10*beyond.U) {
		beyond = notMeasured()
	}
	return duration, beyond
}

// edgeSigma is the rms noise of a sample without the steady tones, which are taken
// out of the edges.
func (a *analysis) edgeSigma() float64 {
	left := a.sigma * a.sigma
	for _, t := range a.result.Tones {
		left -= square(t.RMSVolts.Value)
	}
	return math.Sqrt(math.Max(left, square(math.Max(a.step, 0.2*a.sigma))/12))
}

// beyond returns how far the overlay goes past the second state of t, in percent;
// noise is the rms noise of the overlay. Where the samples show a peak, half way
// between them it may be higher, so that interpolation then counts as well.
func (o overlay) beyond(l pulse.Levels, t pulse.Transition, noise float64) Measured {
	options := pulse.AberrationOptions{Durations: o.reach / t.DurationSeconds}
	past := func(v []float64) float64 {
		_, post, err := pulse.Aberrations(v, o.interval, l, t, options)
		switch {
		case err != nil:
			return math.NaN()
		case t.Edge == pulse.Falling:
			return post.UndershootPercent
		}
		return post.OvershootPercent
	}
	// Noise and ringing of the one curve are hardly in the other.
	both := make([]float64, len(o.mean))
	for i := range both {
		if t.Edge == pulse.Rising {
			both[i] = math.Min(o.seen[i], o.mean[i])
		} else {
			both[i] = math.Max(o.seen[i], o.mean[i])
		}
	}
	seen, between := past(both), past(o.mean)
	trust := math.Min(math.Max((seen-2)/3, 0), 1)
	value := seen + trust*math.Max(0, between-seen)
	return Measured{Value: withoutNoise(value, 100*noise), U: math.Hypot(120*noise, (value-seen)/2)}
}

// withoutNoise takes out of a peak what noise of rms sigma adds to it: the largest of
// some thirty independent values is about two sigma where there is nothing else, and
// hardly more than one value's noise on a clear peak.
func withoutNoise(peak, sigma float64) float64 {
	return math.Sqrt(math.Max(0, peak*peak-4*sigma*sigma))
}

// nearestTransition is the transition of v whose 50 % instant lies nearest to where
// the edges were laid over each other.
func nearestTransition(v []float64, dt float64, l pulse.Levels, edge pulse.Edge) (best pulse.Transition, ok bool) {
	all, err := pulse.Transitions(v, dt, l)
	if err != nil {
		return best, false
	}
	for _, t := range all {
		if t.Edge == edge && (!ok || math.Abs(t.T50-beforeEdge) < math.Abs(best.T50-beforeEdge)) {
			best, ok = t, true
		}
	}
	return best, ok && best.DurationSeconds > 0
}

// withoutScope takes the scope's own rise out of a duration.
func (a *analysis) withoutScope(m Measured) Measured {
	if a.options.ScopeBandwidthHertz == 0 {
		return m
	}
	own := pulse.SinglePoleProduct / a.options.ScopeBandwidthHertz
	corrected, bound := pulse.WithoutInstrument(m.Value, own)
	if bound {
		return Measured{Value: m.Value, U: math.Hypot(m.U, m.Value/math.Sqrt(3))}
	}
	return Measured{Value: corrected, U: m.U * m.Value / corrected}
}
