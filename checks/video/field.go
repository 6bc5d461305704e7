package video

import "math"

// broadShortest is longer than line sync and shorter than a broad pulse of
// vertical sync (27.1 or 27.3 us).
const broadShortest = 12 * microsecond

// fieldLines returns the lines from one vertical sync to the next, where the record
// holds two: 262.5 and 312.5 interlaced, whole numbers on most old consoles. NaN
// where it holds fewer. Vertical syncs are taken at their ends, so that it does not
// matter whether the record begins within one, or whether it is one long pulse.
func fieldLines(all []stretch, period float64) float64 {
	var ends []float64
	last := math.Inf(-1)
	for _, p := range all {
		switch {
		case p.width() >= broadShortest:
			last = p.end
		case p.start-last > period && !math.IsInf(last, -1):
			ends = append(ends, last)
			last = math.Inf(-1)
		}
	}
	if len(ends) < 2 {
		return math.NaN()
	}
	lines := (ends[1] - ends[0]) / period
	if half := math.Round(2*lines) / 2; math.Abs(lines-half) < 0.1 {
		return half
	}
	return lines
}
