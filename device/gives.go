package device

import "slices"

// fromVideo are the measures that a captured line of composite video is reduced to.
var fromVideo = []Measure{
	LumaPeakToPeak, SyncTip, Blanking, Black, White, SyncAmplitude, Picture,
	Burst, BurstFrequency, Overshoot, Undershoot, Tilt, Rise, Fall, Noise, LinePeriod, SyncWidth, Bandwidth,
}

// OfVideo tells whether m is a figure that only a captured line of composite video
// has.
func (m Measure) OfVideo() bool { return slices.Contains(fromVideo, m) }

// OfCapture tells whether m is a figure that a scope record can be reduced to.
func (m Measure) OfCapture() bool { return m == PeakToPeak || m == Ripple || m.OfVideo() }

// Gives tells whether an instrument with this set can give a measure: because it
// can be asked, because it says so unasked, or out of a captured record.
func (c CommandSet) Gives(m Measure) bool {
	if slices.ContainsFunc(c.Asks, func(a Ask) bool { return a.Measure == m }) {
		return true
	}
	if c.Capture != nil && m.OfCapture() {
		return true
	}
	if c.Listen == nil {
		return false
	}
	for _, said := range c.Listen.Words {
		if said == m {
			return true
		}
	}
	return c.Listen.Measure == m
}
