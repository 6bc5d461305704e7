package reservoir

import "math"

// curve is a fitted fall: one or two exponentials over a floor, from the instant
// zero on.
//
//	v(t) = floor + sum of levels[i] exp(-rates[i] (t - zero))
type curve struct {
	zero    float64
	floor   float64
	levels  []float64
	rates   []float64
	fit     solution
	floorAt int // index of the floor among the fit's parameters; -1 where it is held at 0
}

func (c curve) at(t float64) float64 {
	v := c.floor
	for i, level := range c.levels {
		v += level * math.Exp(-c.rates[i]*(t-c.zero))
	}
	return v
}

// tau is the time constant of the plates with their load: the voltage over the
// floor, divided by how fast it falls, at zero. With one exponential that is its
// own. With two, the slow one is charge that the dielectric gives back: while both
// still hold the same voltage none flows between them, so that the first instant
// shows the plates alone.
func (c curve) tau() Estimate {
	over, falls := 0.0, 0.0
	for i, level := range c.levels {
		over += level
		falls += level * c.rates[i]
	}
	tau := over / falls
	gradient := make([]float64, len(c.fit.p))
	for i, level := range c.levels {
		gradient[2*i] = (1 - tau*c.rates[i]) / falls
		gradient[2*i+1] = -tau * level / falls
	}
	return Estimate{Value: tau, U: c.fit.propagated(gradient)}
}

// floorEstimate is where the curve ends; with two exponentials what the slow one
// still holds at the last reading.
func (c curve) floorEstimate(last float64) Estimate {
	if c.floorAt >= 0 {
		return Estimate{Value: c.floor, U: c.fit.u(c.floorAt)}
	}
	slow := 0
	if c.rates[1] < c.rates[0] {
		slow = 1
	}
	e := math.Exp(-c.rates[slow] * (last - c.zero))
	gradient := make([]float64, len(c.fit.p))
	gradient[2*slow], gradient[2*slow+1] = e, -(last-c.zero)*e*c.levels[slow]
	return Estimate{Value: c.levels[slow] * e, U: c.fit.propagated(gradient)}
}

// reaches returns when the curve comes down to a voltage, with its uncertainty; NaN
// where it never does. The time of a voltage that the curve is already below is
// zero's.
func (c curve) reaches(volts float64) Estimate {
	if !(c.floor < volts) || c.tau().Value <= 0 {
		return unknown()
	}
	low, high := c.zero, c.zero+1/c.rates[0]
	if c.at(low) <= volts {
		return Estimate{Value: low, U: 0}
	}
	for range 60 {
		if c.at(high) <= volts {
			break
		}
		high = c.zero + 2*(high-c.zero)
	}
	if c.at(high) > volts {
		return unknown()
	}
	for range 100 {
		if mid := low + (high-low)/2; c.at(mid) > volts {
			low = mid
		} else {
			high = mid
		}
	}
	return Estimate{Value: high, U: c.timeU(high)}
}

// timeU is the uncertainty of the time of a level: that of the voltage over how
// fast it falls there.
func (c curve) timeU(t float64) float64 {
	gradient, falls := make([]float64, len(c.fit.p)), 0.0
	for i, level := range c.levels {
		e := math.Exp(-c.rates[i] * (t - c.zero))
		gradient[2*i], gradient[2*i+1] = e, -(t-c.zero)*e*level
		falls += level * c.rates[i] * e
	}
	if c.floorAt >= 0 {
		gradient[c.floorAt] = 1
	}
	return c.fit.propagated(gradient) / math.Abs(falls)
}
