package drift

import "math"

// lookAgainAfter is how many charted values a change that was not confirmed waits to
// be looked at again, so that looking does not cost with every reading.
const lookAgainAfter = 8

// confirm looks at what a chart has seen once more, with all that came before the
// change as baseline: after hours that is much more than the first hour, and shows a
// wander that was too slow for it. Where there is hardly more than the baseline, or
// the reference was given, the chart is right as it is.
func (s *series) confirm(kind AlarmKind, c change) bool {
	n := s.stream.N()
	if n < s.confirmAt[kind] {
		return false
	}
	t, x, size := s.batches.meansBefore(c.since, 2*baselineBatches-1)
	before := float64(len(x) * size)
	if s.options.Reference != nil || len(x) < baselineBatches || before*2 < s.baseline.readings*3 {
		return true
	}
	s.confirmAt[kind] = n + lookAgainAfter*s.baseline.BatchSize
	line, err := FitLine(t, x)
	if err != nil {
		return true
	}
	by := inflation(residualLag1(line.residuals(t, x)))
	perReading := line.SSResidual / float64(line.Freedom) * by * float64(size)
	u := math.Sqrt(perReading/before + perReading/float64(max(c.readings, 1)))
	width := s.options.Width * studentWidening(s.options.Width, float64(len(x))/by)
	return math.Abs(s.baseline.Target+c.by-line.yMean) > width*u
}
