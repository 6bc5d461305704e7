package video

import "math"

// periodBetween parts the two systems: 525-line consoles go up to 63.695 us,
// 625-line ones down to 63.8305 us.
const periodBetween = 63.76 * microsecond

// systemOf says which system a line period and a subcarrier belong to; the period
// decides where there is one. Either may be NaN; empty if both are.
func systemOf(period, burstHertz float64) System {
	switch {
	case period < periodBetween:
		return System525
	case period >= periodBetween:
		return System625
	case burstHertz < 4e6:
		return System525
	case burstHertz >= 4e6:
		return System625
	}
	return ""
}

// nearestPeriod is the line period in use that is closest to period.
func (n nominal) nearestPeriod(period float64) float64 {
	best := n.periods[0]
	for _, p := range n.periods {
		if math.Abs(p-period) < math.Abs(best-period) {
			best = p
		}
	}
	return best
}
