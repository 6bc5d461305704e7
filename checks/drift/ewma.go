package drift

import "math"

// EWMAPlan says how an EWMA chart is drawn.
type EWMAPlan struct {
	// Lambda is the weight of the newest value, above 0, at most 1.
	Lambda float64
	// Width is the distance of the limits in standard deviations of the average.
	Width float64
	// Target and Sigma are mean and standard deviation of the charted values.
	Target, Sigma float64
	// Autocorrelation is that of neighbouring values, 0 or above, below 1; the
	// limits widen with it (Zhang, Technometrics 40, 1998; from memory).
	Autocorrelation float64
	// TargetU is the standard uncertainty of Target, where it was learnt.
	TargetU float64
	// Floor is the least half width, in the values' unit.
	Floor float64
	// Early, if true, uses the narrower limits of the first values.
	Early bool
}

// EWMA is an exponentially weighted moving average chart
// (NIST/SEMATECH e-Handbook 6.3.2.4).
type EWMA struct {
	plan     EWMAPlan
	variance float64 // of the average in the long run
	average  float64
	fade     float64 // (1 - lambda)^(2 t)
}

// NewEWMA returns a chart that begins at the target.
func NewEWMA(plan EWMAPlan) EWMA {
	keep := float64(plan.Autocorrelation * (1 - plan.Lambda))
	variance := plan.Sigma * plan.Sigma * plan.Lambda / (2 - plan.Lambda) * (1 + keep) / (1 - keep)
	return EWMA{plan: plan, variance: variance, average: plan.Target, fade: 1}
}

// Add takes a value; it reports whether the average is now beyond a limit.
func (e *EWMA) Add(x float64) bool {
	e.average += float64(e.plan.Lambda * (x - e.average))
	e.fade *= float64((1 - e.plan.Lambda) * (1 - e.plan.Lambda))
	return math.Abs(e.average-e.plan.Target) > e.HalfWidth()
}

// Average returns the moving average.
func (e *EWMA) Average() float64 { return e.average }

// HalfWidth returns how far from the target the limits are at the latest value.
// Before the first value of a chart with early limits it is 0 or the floor.
func (e *EWMA) HalfWidth() float64 {
	variance := e.variance
	if e.plan.Early {
		variance *= 1 - e.fade
	}
	spread := math.Sqrt(variance + float64(e.plan.TargetU*e.plan.TargetU))
	return max(e.plan.Floor, e.plan.Width*spread)
}
