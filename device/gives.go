package device

import "slices"

// fromCapture are the measures that a scope record can be reduced to.
var fromCapture = []Measure{
	PeakToPeak, Ripple, LumaPeakToPeak, SyncTip, Blanking, Black, White, SyncAmplitude, Picture,
	Burst, BurstFrequency, Overshoot, Undershoot, Tilt, Rise, Fall, Noise, LinePeriod, SyncWidth, Bandwidth,
}

// Gives tells whether an instrument with this set can give a measure: because it
// can be asked, because it says so unasked, or out of a captured record.
func (c CommandSet) Gives(m Measure) bool {
	if slices.ContainsFunc(c.Asks, func(a Ask) bool { return a.Measure == m }) {
		return true
	}
	if c.Capture != nil && slices.Contains(fromCapture, m) {
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
