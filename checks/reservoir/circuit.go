package reservoir

import "math"

// circuit is a rectifier with a reservoir capacitor: a rectified sine behind a
// resistance and an ideal diode, a capacitor with series resistance, and a load.
type circuit struct {
	peak, drop    float64 // V: of the winding; taken off by diodes
	phase         float64 // rad of the mains at the first bin
	source        float64 // ohm
	farads, esr   float64
	amperes       float64 // load of constant current
	siemens       float64 // load of a resistance
	hertz         float64 // of the ripple
	halfWave      bool
	bins, inside  int // bins of a cycle, and steps of each
	mostCycles    int
	settledWithin float64
}

// mains is the winding's sine, turned on from step to step: a cosine for each would
// take most of the time.
type mains struct {
	cos, sin, turnCos, turnSin float64
	halfWave                   bool
}

func (c circuit) mains(steps int) mains {
	turn := math.Pi / float64(steps)
	if c.halfWave {
		turn *= 2
	}
	m := mains{halfWave: c.halfWave}
	m.sin, m.cos = math.Sincos(c.phase)
	m.turnSin, m.turnCos = math.Sincos(turn)
	return m
}

func (m *mains) step() {
	m.cos, m.sin = m.cos*m.turnCos-m.sin*m.turnSin, m.sin*m.turnCos+m.cos*m.turnSin
}

// winding is the rectified voltage where the mains stands.
func (c circuit) winding(m mains) float64 {
	if m.halfWave {
		return c.peak*m.cos - c.drop
	}
	return c.peak*math.Abs(m.cos) - c.drop
}

// at returns the voltage across the capacitor's terminals and the current into it,
// for what its plates hold and what the winding gives.
//
//	v = plates + esr i     i = g (winding - v) - amperes - siemens v
//
// with g the conductance of the source while the diode conducts, else 0.
func (c circuit) at(plates, winding, g float64) (v, i float64) {
	v = (plates + c.esr*(g*winding-c.amperes)) / (1 + c.esr*(c.siemens+g))
	return v, g*(winding-v) - c.amperes - c.siemens*v
}

// conducts returns the conductance of the source.
func (c circuit) conducts(plates, winding float64) float64 {
	if v, _ := c.at(plates, winding, 0); winding > v {
		return 1 / c.source
	}
	return 0
}

// ripple fills volts with the means over the bins of a settled cycle, by the
// trapezoidal rule, which stays stable however small the resistances are. It begins
// with a guess of what the plates hold and returns what they do.
func (c circuit) ripple(plates float64, volts []float64) float64 {
	for range c.mostCycles {
		end := c.cycle(plates, volts)
		settled := math.Abs(end-plates) <= c.settledWithin*c.peak
		plates = end
		if settled {
			break
		}
	}
	return plates
}

// cycle follows one cycle from what the plates hold and returns what they hold after
// it.
func (c circuit) cycle(plates float64, volts []float64) float64 {
	steps := c.bins * c.inside
	h := 1 / (c.hertz * float64(steps))
	mains := c.mains(steps)
	winding := c.winding(mains)
	v, i := c.at(plates, winding, c.conducts(plates, winding))
	for bin := range c.bins {
		sum := 0.0
		for range c.inside {
			before := v
			mains.step()
			winding = c.winding(mains)
			g := c.conducts(plates+h*i/c.farads, winding)
			d := 1 + c.esr*(c.siemens+g)
			fixed := g*winding - c.amperes - (g+c.siemens)*c.esr*(g*winding-c.amperes)/d
			half := h / (2 * c.farads)
			plates = (plates + half*(i+fixed)) / (1 + half*(g+c.siemens)/d)
			v, i = c.at(plates, winding, g)
			sum += (before + v) / 2
		}
		volts[bin] = sum / float64(c.inside)
	}
	return plates
}
