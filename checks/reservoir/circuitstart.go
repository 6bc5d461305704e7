package reservoir

import (
	"fmt"
	"math"
)

// circuitStart is a first guess from the mean cycle.
type circuitStart struct {
	circuit
	ripple, ohms float64 // V peak to peak; ripple over load current
	load         float64 // A
	top          int     // bin of the highest voltage
}

func startOfCircuit(c cycle, o RippleOptions) (circuitStart, error) {
	top, bottom := 0, 0
	for i, v := range c.volts {
		if v > c.volts[top] {
			top = i
		}
		if v < c.volts[bottom] {
			bottom = i
		}
	}
	n := len(c.volts)
	s := circuitStart{ripple: c.volts[top] - c.volts[bottom]}
	if !(s.ripple < c.volts[top]) {
		return s, fmt.Errorf("%w: it reaches 0 V, as an AC coupled record does", errNoFit)
	}
	if !(s.ripple > 10*c.noise) {
		return s, fmt.Errorf("%w: there is no ripple above the noise", errNoFit)
	}
	s.top = top
	load := o.LoadAmperes
	if o.LoadOhms > 0 {
		s.siemens = 1 / o.LoadOhms
		load = meanOf(c.volts) / o.LoadOhms
	}
	falls := (bottom - top + n) % n
	from, to := (top+falls*3/10)%n, (top+falls*8/10)%n
	slope := (c.volts[from] - c.volts[to]) * c.hertz * float64(n) / float64((to-from+n)%n)
	if !(slope > 0) || falls < n/4 {
		return s, fmt.Errorf("%w: it does not fall between charging pulses", errNoFit)
	}
	s.load = load
	s.ohms, s.farads, s.peak = s.ripple/load, load/slope, c.volts[top]+believedDrop
	s.amperes, s.hertz, s.halfWave = o.LoadAmperes, c.hertz, o.HalfWave
	s.bins, s.inside, s.mostCycles, s.settledWithin = n, max(1, 800/n), 40, 1e-9
	s.circuit.phase = -math.Pi * float64(top) / float64(n)
	if o.HalfWave {
		s.circuit.phase *= 2
	}
	return s, nil
}

// problem poses the fit of the circuit to the mean cycle. The last residuals are the
// beliefs, each with the weight of a reading of the noise.
func (s circuitStart) problem(c cycle) problem {
	n := len(c.volts)
	scratch := make([]float64, n)
	plates := s.peak - believedDrop
	noise := max(c.noise, 1e-4*s.ripple)
	share := math.Log(believedShare * s.ohms)
	return problem{
		points: n + beliefs, params: circuitFigures, freedom: n + beliefs - circuitFigures, scale: s.ripple * s.ripple * float64(n), patience: 40, enough: 1e-8,
		residuals: func(p, r []float64) {
			settled := s.with(p).ripple(plates, scratch)
			if finite(settled) {
				plates = settled // the next one begins from near there
			}
			for i, v := range c.volts {
				r[i] = v - scratch[i]
			}
			r[n] = (believedDrop - p[atDrop]) * noise / believedDropSD
			r[n+1] = (share - p[atESR]) * noise / believedFolds
			r[n+2] = (share - p[atSource]) * noise / believedFolds
		},
	}
}

func (s circuitStart) with(p []float64) circuit {
	c := s.circuit
	c.peak, c.phase, c.drop = p[atPeak], p[atPhase], p[atDrop]
	c.source, c.farads, c.esr = math.Exp(p[atSource]), math.Exp(p[atFarads]), math.Exp(p[atESR])
	return c
}
