package audio

import (
	"math"
	"slices"
)

// predictorOrder is how many samples the next one is foretold from: a few tones and
// the colour of the noise are used up by it, and a jump stands out.
const predictorOrder = 8

// clickHeight is how many times the usual highest surprise of a block a click is.
// The edges of a square wave are in every block, and so are no clicks.
const clickHeight = 4

// leastBlocks is how many blocks tell what is usual in a record.
const leastBlocks = 10

// findDisturbances finds dropouts, then clicks outside them.
func (c *channelAnalysis) findDisturbances() {
	r, b := &c.result, c.result.blocks
	if len(b.squares) < leastBlocks {
		return
	}
	gone := c.dropouts()
	for _, d := range gone {
		r.Dropouts = append(r.Dropouts, Disturbance{AtSeconds: float64(d.from) * c.dt, Seconds: float64(d.to-d.from) * c.dt, Volts: math.NaN()})
	}
	highest := c.surprises()
	usual := medianOf(highest)
	limit := math.Max(clickHeight*usual, 2*c.channel.StepVolts)
	for i := 0; i < len(highest); i++ {
		if highest[i] <= limit || slices.ContainsFunc(gone, func(d gap) bool { return i >= d.from/b.samples-1 && i <= (d.to-1)/b.samples+1 }) {
			continue
		}
		from, most := i, highest[i]
		for i+1 < len(highest) && highest[i+1] > limit {
			i++
			most = max(most, highest[i])
		}
		r.Clicks = append(r.Clicks, Disturbance{AtSeconds: float64(from) * b.seconds, Seconds: float64(i-from+1) * b.seconds, Volts: most})
	}
}

// surprises are the highest differences of each block from what the samples before
// foretold.
func (c *channelAnalysis) surprises() []float64 {
	a := c.predictor()
	v, b := c.channel.Volts, c.result.blocks
	highest := make([]float64, len(b.squares))
	for block := range highest {
		most := 0.0
		for i := max(predictorOrder, block*b.samples); i < (block+1)*b.samples; i++ {
			foretold := 0.0
			before := v[i-predictorOrder : i]
			for j, x := range before {
				foretold += a[predictorOrder-1-j] * (x - c.mean)
			}
			most = max(most, math.Abs(v[i]-c.mean-foretold))
		}
		highest[block] = most
	}
	return highest
}

// predictor finds the coefficients that foretell best, from the correlation of
// samples up to predictorOrder apart (Levinson's recursion), with a billionth of
// white noise so that a pure tone does not make it run over.
func (c *channelAnalysis) predictor() (a [predictorOrder]float64) {
	v := c.channel.Volts
	const most = 1 << 17 // samples are enough to know how neighbours go together
	v = v[:min(len(v), most)]
	var apart [predictorOrder + 1]float64
	for i := predictorOrder; i < len(v); i++ {
		now := v[i] - c.mean
		for lag := range apart {
			apart[lag] += now * (v[i-lag] - c.mean)
		}
	}
	left := apart[0] * (1 + 1e-9)
	if !(left > 0) {
		return a
	}
	for order := range predictorOrder {
		next := apart[order+1]
		for j := range order {
			next -= a[j] * apart[order-j]
		}
		k := next / left
		was := a
		a[order] = k
		for j := range order {
			a[j] = was[j] - k*was[order-1-j]
		}
		if left *= 1 - k*k; !(left > 0) {
			break
		}
	}
	return a
}

// medianOf v, which is not changed; 0 if v is empty.
func medianOf(v []float64) float64 {
	if len(v) == 0 {
		return 0
	}
	sorted := slices.Clone(v)
	slices.Sort(sorted)
	return sorted[len(sorted)/2]
}
