package drift

import "math"

// A slow drift among readings that resemble their neighbours hides from charts, which
// weigh the last hour against the first one. A line through all readings so far weighs
// each of them: under an autocorrelated noise its slope is as good as any (Grenander and
// Rosenblatt, Statistical Analysis of Stationary Time Series, 1957; from memory).
const (
	// tiltChance is how unlikely a slope must be without drift, by Student's t, and
	// tiltGrowth by which part the record grows from one look to the next (no source:
	// chosen by simulation, so that few of the soaks without drift alarm).
	tiltChance = 1e-4
	tiltGrowth = 1.0 / 24
	// tiltPoints is how many means the line is laid through at most.
	tiltPoints = 255
)

// tilted looks, from time to time, whether the whole record tilts. That needs no
// baseline, but as much time as one.
func (s *series) tilted(t float64) bool {
	n := s.stream.N()
	if s.options.Reference != nil || s.tiltAlarm.raised || n < s.tiltAt || t-s.begin < (s.options.WarmUp+s.options.Baseline).Seconds() {
		return false
	}
	s.tiltAt = n + int(tiltGrowth*float64(n)) + 1
	slope, rise, ok := s.tilt()
	if !ok || math.Abs(rise) < max(s.options.SmallestShift, s.step) {
		return false
	}
	if math.Abs(slope.PerSecond) <= studentQuantile(1-tiltChance/2, slope.Freedom)*slope.SE {
		return false
	}
	s.tiltAlarm = alarm{raised: true, at: t, since: s.begin + s.options.WarmUp.Seconds(), by: rise}
	return true
}

// alarms are the first of each kind.
func (s *series) alarms() [alarmKinds]alarm {
	return [alarmKinds]alarm{EWMAAlarm: s.chart.alarms[EWMAAlarm], CUSUMAlarm: s.chart.alarms[CUSUMAlarm], TrendAlarm: s.tiltAlarm}
}

// tilt is the slope of the whole record, and by how much it rises along it. Its standard
// error is the larger of two: from many means, which know it well, and from few, which
// also see a slow wander under independent noise.
func (s *series) tilt() (slope Slope, rise float64, ok bool) {
	slope, rise, ok = s.tiltOf(tiltPoints)
	if !ok {
		return slope, 0, false
	}
	if few, _, known := s.tiltOf(2*baselineBatches - 1); known {
		slope.SE = max(slope.SE, few.SE)
	}
	return slope, rise, true
}

func (s *series) tiltOf(points int) (slope Slope, rise float64, ok bool) {
	var room [3][tiltPoints]float64 // it must not allocate while a soak runs
	t, x, _ := s.batches.appendMeans(room[0][:0], room[1][:0], s.batches.count, points)
	if len(x) < baselineBatches {
		return slope, 0, false
	}
	line, err := FitLine(t, x)
	if err != nil || !(line.SSResidual > 0) {
		return slope, 0, false
	}
	left := room[2][:len(x)]
	for i := range left {
		left[i] = line.residual(t[i], x[i])
	}
	r := residualLag1(left) + batchCaution/math.Sqrt(float64(len(x)))
	slope = slopeWith(line, min(r, 0.999), s.options.Confidence)
	return slope, line.Slope * (t[len(t)-1] - t[0]), slope.Freedom > 0
}
