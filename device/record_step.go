package device

import (
	"math"
	"slices"
)

// quantisationStep returns the distance of the levels that a converter (or the
// printing) has put the samples on, 0 where none can be told: the samples, at most
// 65536 of them spread over the record, must show few levels for their number, and
// every level must lie on the grid to a sixth of a step.
func quantisationStep(volts []float64) float64 {
	const sampled, perLevel = 1 << 16, 4
	if len(volts) < perLevel {
		return 0
	}
	stride := (len(volts) + sampled - 1) / sampled
	levels := make([]float64, 0, len(volts)/stride+1)
	for i := 0; i < len(volts); i += stride {
		levels = append(levels, volts[i])
	}
	taken := len(levels)
	slices.Sort(levels)
	levels = slices.Compact(levels)
	if len(levels) < 3 || taken < perLevel*len(levels) {
		return 0
	}
	return gridOf(levels)
}

// gridOf fits a grid to rising levels: it starts from the closest two and widens
// the step's estimate level by level, as printing rounds each of them.
func gridOf(levels []float64) float64 {
	step := math.Inf(1)
	for i := range levels[1:] {
		step = math.Min(step, levels[i+1]-levels[i])
	}
	for _, v := range levels[1:] {
		step = (v - levels[0]) / math.Round((v-levels[0])/step)
	}
	for _, v := range levels {
		steps := (v - levels[0]) / step
		if math.Abs(steps-math.Round(steps)) > 1.0/6 {
			return 0
		}
	}
	return step
}
