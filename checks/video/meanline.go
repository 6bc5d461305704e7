package video

import "math"

// MeanLine is one line, averaged over the lines of a record, for drawing and for
// laying records over each other. Its first point lies StartSeconds (below 0) from
// the leading edge of line sync.
type MeanLine struct {
	Volts                         []float64
	StartSeconds, IntervalSeconds float64
	// Lines is how many lines were averaged.
	Lines int
}

// meanLineBefore is how much of the line before is shown.
const meanLineBefore = 2 * microsecond

// MeanLine averages at most most whole lines of the record that r is the result
// of, evenly picked, at about points points. Lines of different content blur; a
// most of 1 gives the first whole line as it is. Lines is 0 and Volts nil where the
// record has no whole line.
func (r Result) MeanLine(record Record, points, most int) MeanLine {
	period := r.LinePeriodSeconds.Value
	if math.IsNaN(period) {
		period = nominalOf(r.System).periods[0]
	}
	dt := record.SampleIntervalSeconds
	length := period + meanLineBefore
	interval := dt * math.Max(1, math.Round(length/dt/float64(max(points, 2))))
	m := MeanLine{StartSeconds: -meanLineBefore, IntervalSeconds: interval}
	var whole []float64
	for _, start := range r.LineStartSeconds {
		if start >= meanLineBefore && start+period+dt <= record.seconds() {
			whole = append(whole, start)
		}
	}
	if len(whole) == 0 || most < 1 || points < 2 {
		return m
	}
	picked := spaced(len(whole), most)
	m.Volts = make([]float64, int(length/interval))
	m.Lines = len(picked)
	for _, i := range picked {
		from := whole[i] - meanLineBefore
		for k := range m.Volts {
			m.Volts[k] += record.meanAt(from+float64(k)*interval, interval) / float64(len(picked))
		}
	}
	return m
}

// meanAt is the mean over width about an instant, or the straight line between two
// samples where width is no more than their distance.
func (r Record) meanAt(t, width float64) float64 {
	dt := r.SampleIntervalSeconds
	last := len(r.Volts) - 1
	if width < 1.5*dt {
		i := min(max(0, int(t/dt)), last-1)
		share := math.Min(math.Max(t/dt-float64(i), 0), 1)
		return (1-share)*r.Volts[i] + share*r.Volts[i+1]
	}
	i := min(max(0, int((t-width/2)/dt+0.5)), last)
	j := min(max(i+1, int((t+width/2)/dt+0.5)), last+1)
	return mean(r.Volts[i:j])
}
