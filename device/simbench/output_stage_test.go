package simbench

import (
	"math"
	"testing"
)

// pictureEdge measures a white line's rise and overshoot after the sync edge.
func pictureEdge(c CompositeConfig, white float64) (rise, overshoot float64) {
	line, s := visible(c)
	edge := line.pulsesBelow(-0.1 * c.Gain)[0].begin
	picture := line.part(edge+s.blankingEnd-1e-6, edge+s.blankingEnd+8e-6)
	_, high := picture.extremes()
	return riseTime(picture, 0, white), high/white - 1
}

func TestOutputStageEdges(t *testing.T) {
	for _, row := range []struct {
		edge, bandwidth, ring, ratio float64
		rise, riseWithin, overshoot  float64
		source                       string
	}{
		{60e-9, 0, 0, 0, 60e-9, 1e-9, 0, "as asked"},
		{5e-9, 2e6, 0, 0, 174.85e-9, 3e-9, 0, "single pole: ln 9 / (2 pi B), exact"},
		{80e-9, 3e6, 0, 0, math.Hypot(80e-9, 116.6e-9), 8e-9, 0, "root sum of squares, common practice"},
		{5e-9, 0, 5e6, 0.10, 0, 1, 0.10, "second order: exp(-pi z / sqrt(1 - z z)), exact"},
		{5e-9, 0, 4e6, 0.25, 0, 1, 0.25, "likewise"},
	} {
		c := clean("625/50", 312, "white")
		c.EdgeS, c.BandwidthHz, c.RingHz, c.RingRatio = row.edge, row.bandwidth, row.ring, row.ratio
		rise, overshoot := pictureEdge(c, 0.7)
		near(t, "rise ("+row.source+")", rise, row.rise, row.riseWithin)
		near(t, "overshoot ("+row.source+")", overshoot, row.overshoot, 0.004)
	}
}

func TestTermination(t *testing.T) {
	for _, row := range []struct {
		ohm, want float64
		source    string
	}{
		{75, 1, "V-70"}, {0, 2, "V-71"}, {37.5, 0.66667, "V-72"}, {50, 0.8, "V-73"},
		{68, 0.95105, "V-76"}, {82, 1.04459, "V-76"}, {100, 1.14286, "V-76"},
	} {
		c := clean("625/50", 312, "white")
		c.LoadOhm = row.ohm
		line, _ := visible(c)
		low, high := line.part(line.from+5e-6, line.from+66.5e-6).extremes()
		near(t, row.source+" (SMPTE 170M cl. 15, BT.1700: 75 ohm source) peak to peak", high-low, row.want, 2e-3)
	}
}

func TestOffsetSyncGainAndBurst(t *testing.T) {
	c := clean("625/50", 312, "white")
	c.OffsetV, c.SyncRatio, c.BurstRatio, c.Gain = 0.2, 0.5, 0, 1.2
	line, s := visible(c)
	edge := line.pulsesBelow(0.2 - 0.09)[0].begin
	near(t, "sync tip", line.part(edge+1e-6, edge+4e-6).mean(), 0.2-0.15*1.2, 1e-3)
	near(t, "blanking", line.part(edge+8.5e-6, edge+10e-6).mean(), 0.2, 1e-3)
	near(t, "white", line.part(edge+20e-6, edge+50e-6).mean(), 0.2+0.7*1.2, 1e-3)
	peak, _ := line.part(edge+s.burstStart, edge+s.burstEnd()).correlate(s.subcarrierHz)
	near(t, "burst taken out", peak, 0, 1e-3)
}

func TestCouplingCapacitor(t *testing.T) {
	// V-80: 1/(2 pi 150 ohm C). Over one line a flat level droops by t/RC.
	c := clean("625/50", 312, "white")
	c.CouplingF = 10e-6 // worn: 1.5 ms
	line := sample(c, 200*64e-6-2e-6, 128e-6, 1e-9)
	edge := line.pulsesBelow(line.mean() - 0.65)[0].begin
	first, last := line.part(edge+12e-6, edge+13e-6).mean(), line.part(edge+60e-6, edge+61e-6).mean()
	// The level above the mean falls with the time constant 1.5 ms.
	near(t, "droop over 48 us", first-last, first*(1-math.Exp(-48e-6/1.5e-3)), 1e-3)
	// V-82: the mean is removed.
	frame := sample(c, 0, 312*64e-6, 50e-9)
	near(t, "mean behind the capacitor", frame.mean(), 0, 2e-3)
}

func TestDisturbances(t *testing.T) {
	c := clean("625/50", 312, "black")
	c.NoiseRMSV = 5e-3
	line := sample(c, 100*64e-6+15e-6, 45e-6, 10e-9)
	near(t, "noise rms", deviation(line.v), 5e-3, 0.3e-3)
	c = clean("625/50", 312, "black")
	c.ToneHz, c.ToneRMSV = 3e6, 4e-3
	line = sample(c, 100*64e-6+15e-6, 45e-6, 10e-9)
	peak, _ := line.cycles(3e6, 120).correlate(3e6)
	near(t, "tone rms", peak/math.Sqrt2, 4e-3, 0.05e-3)
	c = clean("625/50", 312, "black")
	c.HumPPV = 0.1
	low, high := math.Inf(1), math.Inf(-1)
	for n := range 275 {
		v := sample(c, (float64(n)+30.5)*64e-6, 20e-6, 1e-6).mean()
		low, high = min(low, v), max(high, v)
	}
	near(t, "hum over a field, peak to peak", high-low, 0.1, 0.01)
}
