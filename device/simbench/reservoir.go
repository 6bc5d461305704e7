package simbench

import "math"

// mainsShape is the voltage of a reservoir capacitor over one charging period,
// with an ideal rectifier and a constant load current: it follows the winding's
// sine until that falls faster than the load can, then falls in a straight line
// until the next half sine meets it. Time runs from a peak.
type mainsShape struct {
	peak, omega float64 // V, rad/s
	fall        float64 // V/s, load current over capacitance
	period      float64 // s between charging pulses
	leave, meet float64 // s after the peak
	esr, load   float64 // ohm, A
	capacitance float64 // F
}

// newMainsShape solves both instants: omega Vp sin(omega leave) = I/C, and the
// straight line against the next half sine by bisection.
func newMainsShape(c ReservoirConfig, mainsHz float64) mainsShape {
	s := mainsShape{
		peak: c.PeakV, omega: 2 * math.Pi * mainsHz, fall: c.LoadA / c.CapacitanceF,
		period: 1 / (2 * mainsHz), esr: c.ESROhm, load: c.LoadA, capacitance: c.CapacitanceF,
	}
	if c.HalfWave {
		s.period = 1 / mainsHz
	}
	s.leave = math.Asin(min(1, s.fall/(s.omega*s.peak))) / s.omega
	low, high := s.period-math.Pi/2/s.omega, s.period
	if low < s.leave {
		low = s.leave
	}
	for range 60 {
		middle := (low + high) / 2
		if s.line(middle) > s.peak*math.Cos(s.omega*(s.period-middle)) {
			low = middle
		} else {
			high = middle
		}
	}
	s.meet = high
	return s
}

// line is the constant-current fall after the capacitor has left the sine.
func (s mainsShape) line(t float64) float64 {
	return max(0, s.peak*math.Cos(s.omega*s.leave)-s.fall*(t-s.leave))
}

// at returns the terminal voltage t seconds after a peak: the capacitor's own
// plus what its current makes across its series resistance.
func (s mainsShape) at(t float64) float64 {
	t -= math.Floor(t/s.period) * s.period
	switch {
	case t < s.leave:
		return s.charging(t)
	case t < s.meet:
		return s.line(t) - s.esr*s.load
	default:
		return s.charging(t - s.period)
	}
}

// charging is the part on the sine, t from the nearest peak.
func (s mainsShape) charging(t float64) float64 {
	current := -s.capacitance * s.peak * s.omega * math.Sin(s.omega*t)
	return s.peak*math.Cos(s.omega*t) + s.esr*current
}

// mean is the mean of the terminal voltage over one period, by the midpoint rule on
// a grid fine enough for the reservoir's own figures.
func (s mainsShape) mean() float64 {
	const n = 2000
	var sum float64
	for i := range n {
		sum += s.at((float64(i) + 0.5) * s.period / n)
	}
	return sum / n
}
