package pulse

import "math"

// Products of the 10-90 % transition duration of a step response and the -3 dB
// bandwidth of the system that makes it.
const (
	// SinglePoleProduct is ln 9 / (2 pi).
	SinglePoleProduct = 0.349699152
	// GaussianProduct belongs to a Gaussian response.
	GaussianProduct = 0.339624
	// ButterworthProduct belongs to a second-order response with damping ratio
	// 0.7071.
	ButterworthProduct = 0.341870
)

// BandwidthHertz estimates the -3 dB bandwidth that explains a transition
// duration if one pole made it; NaN unless the duration is above 0.
func BandwidthHertz(transitionSeconds float64) float64 {
	if !(transitionSeconds > 0) {
		return math.NaN()
	}
	return SinglePoleProduct / transitionSeconds
}

// WithoutInstrument takes the instrument's own transition duration out of a
// reading by root difference of squares (common practice; exact for Gaussian
// responses). If the instrument's is more than a third of the reading, the
// reading itself is returned and is an upper bound only.
func WithoutInstrument(readingSeconds, instrumentSeconds float64) (seconds float64, upperBound bool) {
	if !(instrumentSeconds <= readingSeconds/3) {
		return readingSeconds, true
	}
	return math.Sqrt(readingSeconds*readingSeconds - instrumentSeconds*instrumentSeconds), false
}

// OvershootPercent is the overshoot of the step response of a second-order system
// with damping ratio zeta: 100 exp(-pi zeta / sqrt(1 - zeta^2)); 0 from zeta 1 up.
func OvershootPercent(zeta float64) float64 {
	if zeta >= 1 {
		return 0
	}
	return 100 * math.Exp(-math.Pi*zeta/math.Sqrt(1-zeta*zeta))
}

// DampingRatio is the damping ratio of the second-order system whose step response
// overshoots by percent, the inverse of OvershootPercent; NaN unless percent is
// above 0 and below 100.
func DampingRatio(percent float64) float64 {
	if !(percent > 0 && percent < 100) {
		return math.NaN()
	}
	l := math.Log(percent / 100)
	return -l / math.Hypot(math.Pi, l)
}
