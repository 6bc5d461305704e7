package simbench

import "math"

// charge is what a capacitor with dielectric absorption holds at one moment: the
// voltage of its plates and of the absorbing branch behind them.
type charge struct{ plates, absorbed float64 }

// dielectric is the capacitor: plates in parallel with a slow branch, absorbing
// = ratio times the plates' capacitance, behind a resistance.
type dielectric struct {
	plates, absorbing float64 // F
	branchOhm         float64
}

// newDielectric splits a capacitor into its plates and its slow branch, whose
// own time constant is AbsorptionS.
func newDielectric(c ReservoirConfig) dielectric {
	d := dielectric{plates: c.CapacitanceF}
	if c.AbsorptionRatio > 0 {
		d.absorbing = c.AbsorptionRatio * c.CapacitanceF
		d.branchOhm = c.AbsorptionS / d.absorbing
	}
	return d
}

// drain returns the charge t seconds later under a constant current. The total
// charge falls linearly; the difference between the two voltages relaxes
// exponentially to a constant lag.
func (d dielectric) drain(from charge, current, t float64) charge {
	if d.absorbing == 0 {
		v := from.plates - current*t/d.plates
		return charge{v, v}
	}
	rate := (1/d.plates + 1/d.absorbing) / d.branchOhm
	lag := -current / (d.plates * rate)
	difference := lag + (from.plates-from.absorbed-lag)*math.Exp(-rate*t)
	total := d.plates*from.plates + d.absorbing*from.absorbed - current*t
	plates := (total + d.absorbing*difference) / (d.plates + d.absorbing)
	return charge{plates, plates - difference}
}

// decay returns the charge t seconds later with a resistance across the plates:
// the exponential of the two-state system's matrix, in closed form.
func (d dielectric) decay(from charge, ohm, t float64) charge {
	if d.absorbing == 0 {
		v := from.plates * math.Exp(-t/(ohm*d.plates))
		return charge{v, v}
	}
	a := -(1/ohm + 1/d.branchOhm) / d.plates
	b := 1 / (d.branchOhm * d.plates)
	c := 1 / (d.branchOhm * d.absorbing)
	half, q := (a-c)/2, math.Sqrt((a+c)*(a+c)/4+b*c)
	slow, fast := math.Exp((half+q)*t), math.Exp((half-q)*t)
	even, odd := (slow+fast)/2, (slow-fast)/(2*q)
	return charge{
		plates:   from.plates*(even+odd*(a-half)) + from.absorbed*odd*b,
		absorbed: from.plates*odd*c + from.absorbed*(even+odd*(-c-half)),
	}
}
