package reservoir

import (
	"fmt"
	"math"
)

// cycle is the mean of all ripple cycles of a record, in equal bins of phase.
type cycle struct {
	volts  []float64
	hertz  float64
	cycles float64
	noise  float64 // of a bin
}

const (
	mostBins    = 400
	leastBins   = 40
	leastCycles = 3
)

// foldCycles lays the cycles of a record over each other. hertz is about the ripple's
// frequency; it is found to where the cycles lie over each other best.
func foldCycles(volts []float64, interval, hertz float64) (cycle, error) {
	perCycle := 1 / (hertz * interval)
	if !(perCycle >= leastBins) {
		return cycle{}, fmt.Errorf("%w: %.0f samples each cycle, wanted %d or more", errNoFit, perCycle, leastBins)
	}
	if cycles := float64(len(volts)) / perCycle; !(cycles >= leastCycles) {
		return cycle{}, fmt.Errorf("%w: %.1f cycles, wanted %d or more", errNoFit, cycles, leastCycles)
	}
	bins := int(min(mostBins, perCycle/1.5))
	// Wide bins find where about it is. In them an edge makes most of the variance, and
	// least of it where it is smeared over a boundary, so that the rest takes narrow ones.
	best := sharpest(volts, interval, hertz, 0.015, leastBins)
	for _, reach := range []float64{0.002, 0.0003} {
		best = sharpest(volts, interval, best, reach, bins)
	}
	c := cycle{hertz: best, cycles: float64(len(volts)) * interval * best}
	var left float64
	c.volts, left = fold(volts, interval, best, bins)
	c.noise = math.Sqrt(left * float64(bins) / float64(len(volts)))
	return c, nil
}

// sharpest tries frequencies about one, and returns that with the least variance
// within the bins.
func sharpest(volts []float64, interval, hertz, reach float64, bins int) float64 {
	best, least := hertz, math.Inf(1)
	const tries = 24
	for i := -tries; i <= tries; i++ {
		f := hertz * (1 + reach*float64(i)/tries)
		if _, left := fold(volts, interval, f, bins); left < least {
			best, least = f, left
		}
	}
	return best
}

// fold averages samples by phase and returns the variance that is left within the
// bins.
func fold(volts []float64, interval, hertz float64, bins int) (means []float64, left float64) {
	sums, squares, counts := make([]float64, bins), make([]float64, bins), make([]float64, bins)
	for i, v := range volts {
		phase := float64(i) * interval * hertz
		bin := min(int((phase-math.Floor(phase))*float64(bins)), bins-1)
		v -= volts[0]
		sums[bin] += v
		squares[bin] += v * v
		counts[bin]++
	}
	total := 0.0
	for i := range sums {
		if counts[i] == 0 {
			return nil, math.Inf(1)
		}
		left += max(0, squares[i]-sums[i]*sums[i]/counts[i])
		total += counts[i]
		sums[i] = volts[0] + sums[i]/counts[i]
	}
	return sums, left / total
}
