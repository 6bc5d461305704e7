package audio

import "math"

// blocks are a channel's short stretches, all of the same length.
type blocks struct {
	samples int // in each
	seconds float64
	squares []float64 // mean squares about the channel's mean
}

// blockSeconds is how long a block is: short against what a person hears as one
// event, long against a cycle of a test tone.
const blockSeconds = 0.01

// measureLevel goes through the samples twice: for the mean and the ends, and for
// the squares about that mean, which so lose nothing to a large offset.
func (c *channelAnalysis) measureLevel() {
	v, r := c.channel.Volts, &c.result
	n := float64(len(v))
	low, high, sum := v[0], v[0], 0.0
	for _, x := range v {
		low, high, sum = min(low, x), max(high, x), sum+x
	}
	c.mean = math.Min(math.Max(sum/n, low), high)
	c.low, c.high = low, high
	r.blocks = newBlocks(v, c.mean, c.dt)
	var square float64
	for _, x := range v {
		square += (x - c.mean) * (x - c.mean)
	}
	r.acSquare = square / n
	step := c.channel.StepVolts / math.Sqrt(12)
	ac := Measured{Value: r.acSquare, U: r.blocks.meanU()}
	r.RMSVolts = ac.root()
	r.RMSVolts.U = math.Hypot(r.RMSVolts.U, step/math.Sqrt(n))
	r.DCVolts = Measured{Value: c.mean, U: math.Hypot(c.meanU(), step/math.Sqrt(n))}
	r.TotalRMSVolts = Measured{Value: math.Hypot(r.RMSVolts.Value, c.mean), U: math.Hypot(r.RMSVolts.U, r.DCVolts.U)}
	r.PeakVolts = Measured{Value: math.Max(math.Abs(low), math.Abs(high)), U: step}
	r.PeakToPeakVolts = Measured{Value: high - low, U: step * math.Sqrt2}
	if r.RMSVolts.Value > 0 {
		away := Measured{Value: math.Max(high-c.mean, c.mean-low), U: step}
		r.CrestFactor = away.over(r.RMSVolts)
	}
}

func newBlocks(v []float64, mean, dt float64) blocks {
	b := blocks{samples: max(1, int(blockSeconds/dt))}
	b.seconds = float64(b.samples) * dt
	for from := 0; from+b.samples <= len(v); from += b.samples {
		var square float64
		for _, x := range v[from : from+b.samples] {
			square += (x - mean) * (x - mean)
		}
		b.squares = append(b.squares, square/float64(b.samples))
	}
	return b
}

// meanU is the uncertainty of the mean square from how the blocks scatter (JCGM
// 100:2008, 4.2.3). It takes 32 blocks or more to a group, so that mains hum and
// tones of low pitch look the same in each.
func (b blocks) meanU() float64 {
	groups := min(len(b.squares), 32)
	if groups < 4 {
		return 0
	}
	each := len(b.squares) / groups
	var sum, squares float64
	for g := range groups {
		var m float64
		for _, s := range b.squares[g*each : (g+1)*each] {
			m += s / float64(each)
		}
		sum, squares = sum+m, squares+m*m
	}
	n := float64(groups)
	variance := math.Max(0, squares-sum*sum/n) / (n - 1)
	return math.Sqrt(variance / n)
}

// meanU is the uncertainty of the channel's mean: noise of the blocks' size and
// what a part of a cycle may leave.
func (c *channelAnalysis) meanU() float64 {
	n := float64(max(1, len(c.result.blocks.squares)))
	return math.Sqrt(c.result.acSquare) / n
}

// countClipped counts the samples on an end of the range, where the converter may
// have had no more room. A float's range is not known.
func (c *channelAnalysis) countClipped() {
	ch := c.channel
	if !ch.hasRange() || c.low > ch.LowVolts && c.high < ch.HighVolts {
		return
	}
	for _, x := range ch.Volts {
		if x <= ch.LowVolts || x >= ch.HighVolts {
			c.result.Clipped++
		}
	}
}
