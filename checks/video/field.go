package video

import "math"

// broadShortest is longer than line sync and shorter than a broad pulse of
// vertical sync (27.1 or 27.3 us).
const broadShortest = 12 * microsecond

// fieldLines returns the lines from one vertical sync to the next, where the record
// holds two: 262.5 and 312.5 interlaced, whole numbers on most old consoles. NaN
// where it holds fewer.
func fieldLines(all []stretch, period float64) float64 {
	var starts []float64
	last := math.Inf(-1)
	for _, p := range all {
		if p.width() < broadShortest {
			continue
		}
		if p.start-last > 20*period {
			starts = append(starts, p.start)
		}
		last = p.start
	}
	if len(starts) < 2 {
		return math.NaN()
	}
	lines := (starts[1] - starts[0]) / period
	if half := math.Round(2*lines) / 2; math.Abs(lines-half) < 0.1 {
		return half
	}
	return lines
}
