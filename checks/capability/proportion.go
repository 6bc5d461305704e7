package capability

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Interval is a two-sided confidence interval; NaN where nothing can be said.
type Interval struct{ Low, High float64 }

// notKnown is the interval of which nothing is known.
var notKnown = Interval{math.NaN(), math.NaN()}

// Yield returns passed / units and its score interval (Wilson 1927) at the
// confidence level: unlike the exact interval it is not wider than it says, and it
// stays within 0 and 1 with few units too. NaN for no units or what is no count.
//
//	(p + z²/2n ± z √(p(1-p)/n + z²/4n²)) / (1 + z²/n)
func Yield(passed, units int, confidence float64) (share float64, within Interval) {
	if units < 1 || passed < 0 || passed > units || !level(confidence) {
		return math.NaN(), notKnown
	}
	n, p, z := float64(units), float64(passed)/float64(units), twoSided(confidence)
	middle := p + z*z/(2*n)
	half := z * math.Sqrt(p*(1-p)/n+z*z/(4*n*n))
	scale := 1 + z*z/n
	within = Interval{math.Max(0, (middle-half)/scale), math.Min(1, (middle+half)/scale)}
	if passed == 0 {
		within.Low = 0 // exactly, which rounding would miss
	}
	if passed == units {
		within.High = 1
	}
	return p, within
}

// RolledYield is the chance that a unit passes every step, were the steps'
// failures independent: the product of their yields. 1 for no steps; NaN if one is
// not known.
func RolledYield(steps ...float64) float64 {
	rolled := 1.0
	for _, share := range steps {
		rolled *= share
	}
	return rolled
}

// level tells whether a confidence level is one.
func level(confidence float64) bool { return confidence > 0 && confidence < 1 }

// twoSided is the normal quantile that leaves half of what confidence leaves on
// either side.
func twoSided(confidence float64) float64 {
	return distuv.UnitNormal.Quantile((1 + confidence) / 2)
}
