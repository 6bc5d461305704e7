package drift

import "math"

// Refused counts readings that were not used, by reason.
type Refused struct {
	// NotFinite were NaN, infinite or beyond any instrument (above 1e100),
	// Backward older than the reading before them.
	NotFinite, Backward int
	// WarmUp came before the warm-up was over.
	WarmUp int
}

// series is one record as it comes: all checks of this package in about 9 KiB.
type series struct {
	options  Options
	stream   Stream
	batches  Batches
	refused  Refused
	begin    float64 // first accepted reading
	last     float64 // latest accepted reading
	seen     bool
	value    float64
	step     float64 // smallest change seen in the baseline; 0 before the first
	learnAt  int     // number of readings at which to try the baseline again
	learnt   bool
	baseline Baseline
	// times holds the readings' times while the baseline is learnt.
	times Stream
	// confirmAt is the number of readings before which a change that a chart has seen
	// is not looked at again.
	confirmAt [2]int
	// tiltAt is the number of readings at which the slope is looked at again.
	tiltAt    int
	tiltAlarm alarm
	chart     chart
}

func newSeries(o Options) series {
	s := series{options: o.withDefaults(), learnAt: baselineBatches}
	if r := s.options.Reference; r != nil {
		s.settle(baselineOf(*r))
	}
	return s
}

func (s *series) settle(b Baseline) {
	s.baseline, s.learnt = b, true
	s.chart = newChart(b, s.options)
}

// add takes a reading at t seconds and says what came of it.
func (s *series) add(t, x float64) Event {
	switch {
	case !usable(x) || !usable(t):
		s.refused.NotFinite++
		return RefusedReading
	case s.seen && t < s.last:
		s.refused.Backward++
		return RefusedReading
	case !s.seen:
		s.seen, s.begin = true, t
	}
	s.last = t
	if t-s.begin < s.options.WarmUp.Seconds() {
		s.refused.WarmUp++
		return 0
	}
	if !s.learnt {
		s.followStep(x)
		s.times.Add(t)
	}
	s.value = x
	s.stream.Add(x)
	s.batches.Add(t, x)
	var e Event
	if s.tilted(t) {
		e = RaisedTrend
	}
	if !s.learnt {
		return e | s.tryBaseline(t)
	}
	raised := s.chart.add(t, x, s.confirm)
	if raised[EWMAAlarm] {
		e |= RaisedEWMA
	}
	if raised[CUSUMAlarm] {
		e |= RaisedCUSUM
	}
	return e
}

// followStep learns the resolution of the readings: the smallest step that they
// make.
func (s *series) followStep(x float64) {
	step := math.Abs(x - s.value)
	if s.stream.N() > 0 && step > 0 && (s.step == 0 || step < s.step) {
		s.step = step
	}
}

// tryBaseline ends the baseline when its time is over and it is worth enough
// independent readings, or has been prolonged as far as it may.
func (s *series) tryBaseline(t float64) Event {
	over := t - s.begin - s.options.WarmUp.Seconds()
	baseline := s.options.Baseline.Seconds()
	if over < baseline || s.stream.N() < s.learnAt {
		return 0
	}
	// Trying costs; a quarter more readings make it worth while again.
	s.learnAt = s.stream.N() + s.stream.N()/4 + 1
	b, ok := learn(&s.times, &s.stream, &s.batches, s.step)
	if !ok || !s.enough(b) && over < longestBaseline*baseline {
		return 0
	}
	s.settle(b)
	return LearntBaseline
}

// enough tells a baseline that is worth enough independent readings, or whose level
// is known to less than the smallest shift that counts.
func (s *series) enough(b Baseline) bool {
	width := s.options.Width * studentWidening(s.options.Width, b.Independent)
	return b.Independent >= independentEnough || width*b.TargetU < s.options.SmallestShift
}
