package audio

import (
	"math"
	"slices"
)

// A dropout is told from a click by the level: it falls towards silence, stays there
// for shortestDropout or longer, and comes back. Figures are ours, common practice.
const (
	shortestDropout = 0.001 // seconds
	// farthestReach is the most that is looked at before and behind a sample.
	farthestReach = 0.00025 // seconds
	// silentEnergy and silentLevel are the share of the usual energy and of the tone's
	// peak up to which it is silent.
	silentEnergy, silentLevel = 0.01, 0.25
	// ownSilence is how many times the wave's own longest silence a dropout is: a
	// narrow pulse is silent for a while in every cycle.
	ownSilence = 4
)

// gap is samples from one to another, the last not included.
type gap struct{ from, to int }

// dropouts are the times in which the tone is gone, in order: those that the samples
// show to the sample, and besides the blocks that hold less than a hundredth of the
// usual power, where noise hides the samples.
func (c *channelAnalysis) dropouts() []gap {
	if !c.hasTone() {
		return nil
	}
	found := c.silences()
	b := c.result.blocks
	usual := medianOf(b.squares)
	for i := 0; i < len(b.squares); i++ {
		if b.squares[i] >= usual/100 {
			continue
		}
		from := i
		for i+1 < len(b.squares) && b.squares[i+1] < usual/100 {
			i++
		}
		whole := gap{from * b.samples, (i + 1) * b.samples}
		if !slices.ContainsFunc(found, func(g gap) bool { return g.from < whole.to && g.to > whole.from }) {
			found = append(found, whole)
		}
	}
	slices.SortFunc(found, func(a, b gap) int { return a.from - b.from })
	return found
}

// silences are the runs of silent samples that are long enough for a dropout, and for
// this wave: longer by far than what most blocks have.
func (c *channelAnalysis) silences() []gap {
	quiet := c.silentSamples()
	reach := c.energyReach()
	var runs []gap
	longest := make([]float64, len(c.result.blocks.squares)) // by the block of its begin
	for i := reach; i < len(c.channel.Volts)-reach; i++ {
		if !quiet(i) {
			continue
		}
		run := gap{i, i + 1}
		// Noise may lift a few samples of a silence, never as many as the tone.
		for next := i + 1; next < min(run.to+reach, len(c.channel.Volts)-reach); next++ {
			if quiet(next) {
				run.to = next + 1
			}
		}
		i = run.to
		if block := run.from / c.result.blocks.samples; block < len(longest) {
			longest[block] = max(longest[block], float64(run.to-run.from))
		}
		runs = append(runs, run)
	}
	least := max(math.Round(shortestDropout/c.dt), ownSilence*medianOf(longest))
	// A run is short by the samples at its ends that the tone beside them still lifts.
	return slices.DeleteFunc(runs, func(g gap) bool { return float64(g.to-g.from+2) < least })
}

// energyReach is how far before and behind a sample its energy is looked at, in samples:
// a quarter of the tone's cycle, where it is the most.
func (c *channelAnalysis) energyReach() int {
	return max(1, int(math.Round(math.Min(farthestReach, 0.25/c.result.ToneHertz.Value)/c.dt)))
}

// silentSamples returns what tells whether a sample is silent: it is near the mean, and
// so are its neighbours. x(n)^2 - x(n-m) x(n+m) is A^2 sin(m w)^2 at every sample of a
// sine of peak A (Kaiser 1990; from memory), at its zero crossings too, and 0 where the
// signal stands still.
func (c *channelAnalysis) silentSamples() func(i int) bool {
	v, m := c.channel.Volts, c.energyReach()
	energy := func(i int) float64 {
		x, before, after := v[i]-c.mean, v[i-m]-c.mean, v[i+m]-c.mean
		return math.Abs(x*x - before*after)
	}
	const looks = 4096 // samples tell what is usual
	var some []float64
	for i := m; i < len(v)-m; i += max(1, len(v)/looks) {
		some = append(some, energy(i))
	}
	most := silentEnergy * medianOf(some)
	level := math.Max(silentLevel*math.Sqrt2*c.result.ToneVolts.Value, c.channel.StepVolts)
	return func(i int) bool { return math.Abs(v[i]-c.mean) <= level && energy(i) <= most }
}
