package simbench

import "math"

// tableStep is the grid of edge tables.
const tableStep = 1e-9 // s

// edge is what is still missing of a unit step after an output stage, from
// before seconds ahead of the step's half-amplitude point, on the table's grid.
type edge struct {
	missing []float64
	before  float64
}

// newEdge builds the step response: a raised cosine with the given 10 to 90 %
// duration, through the stage's pole and its second-order ringing.
func newEdge(duration float64, c OutputConfig) edge {
	// A raised cosine of length T passes from 10 to 90 % in 0.590334 T.
	length := duration / 0.590334
	e := edge{before: length / 2}
	stage := newStage(c)
	for i := 0; ; i++ {
		t := float64(i) * tableStep
		out := stage.next(raisedCosine(t / length))
		e.missing = append(e.missing, 1-out)
		if t > length && stage.settled() || t > 20e-6 {
			break
		}
	}
	e.missing = append(e.missing, 0)
	return e
}

// raisedCosine rises from 0 to 1 as x goes from 0 to 1.
func raisedCosine(x float64) float64 {
	x = max(0, min(1, x))
	return (1 - math.Cos(math.Pi*x)) / 2
}

// at returns how much of the step is missing t seconds after before ahead of it.
func (e *edge) at(t float64) float64 {
	x := t / tableStep
	i := int(x)
	if i+1 >= len(e.missing) {
		return 0
	}
	return e.missing[i] + (x-float64(i))*(e.missing[i+1]-e.missing[i])
}

func (e *edge) length() float64 { return float64(len(e.missing)) * tableStep }

// stage is the output stage as it runs: a single pole, then a second-order
// section, each stepped on the table's grid by the midpoint rule.
type stage struct {
	input, pole     float64
	poleRate        float64 // 1/s, 0: no pole
	place, velocity float64
	omega, damping  float64 // rad/s, 0: no ringing
}

// newStage is at rest at 0.
func newStage(c OutputConfig) *stage {
	return &stage{poleRate: 2 * math.Pi * c.BandwidthHz, omega: 2 * math.Pi * c.RingHz, damping: damping(c.RingRatio)}
}

// damping is the damping ratio of a second-order stage whose step overshoots by
// the given share: ratio = exp(-pi z / sqrt(1 - z z)).
func damping(ratio float64) float64 {
	if ratio <= 0 {
		return 1
	}
	log := math.Log(ratio)
	return -log / math.Hypot(math.Pi, log)
}

// next advances by one grid step to the input x and returns the output.
func (s *stage) next(x float64) float64 {
	const parts = 8
	from := s.input
	s.input = x
	for i := range parts {
		in := from + (x-from)*(float64(i)+0.5)/parts
		s.advance(in, tableStep/parts)
	}
	return s.place
}

// advance steps both sections by dt. The second-order one moves half a step, is
// accelerated there, and moves the other half (leapfrog), which keeps its energy.
func (s *stage) advance(in, dt float64) {
	if s.poleRate > 0 {
		s.pole = in + (s.pole-in)*math.Exp(-s.poleRate*dt)
		in = s.pole
	}
	if s.omega == 0 {
		s.place = in
		return
	}
	half := s.place + s.velocity*dt/2
	acceleration := s.omega*s.omega*(in-half) - 2*s.damping*s.omega*s.velocity
	s.velocity += acceleration * dt
	s.place = half + s.velocity*dt/2
}

// settled tells whether the step is done to a millionth.
func (s *stage) settled() bool {
	const small = 1e-6
	still := s.omega == 0 || math.Abs(s.velocity) < small*s.omega
	return still && math.Abs(1-s.place) < small
}

// response is the stage's gain and phase (radians) at a frequency.
func (c OutputConfig) response(hz float64) (gain, phase float64) {
	gain = 1
	if c.BandwidthHz > 0 {
		x := hz / c.BandwidthHz
		gain /= math.Hypot(1, x)
		phase -= math.Atan(x)
	}
	if c.RingHz > 0 {
		x, z := hz/c.RingHz, damping(c.RingRatio)
		gain /= math.Hypot(1-x*x, 2*z*x)
		phase -= math.Atan2(2*z*x, 1-x*x)
	}
	return gain, phase
}

// sourceOhm is the resistance in series with a composite output.
const sourceOhm = 75

// termination is the share of the nominal level that a load gets: a matched one
// 1, an open output 2 (the source's EMF is twice the level).
func (c OutputConfig) termination() float64 {
	if c.LoadOhm == 0 {
		return 2
	}
	return 2 * c.LoadOhm / (c.LoadOhm + sourceOhm)
}

// couplingSeconds is the time constant of the coupling capacitor with source and
// load; an open output leaves it to a scope's 1 Mohm.
func (c OutputConfig) couplingSeconds() float64 {
	load := c.LoadOhm
	if load == 0 {
		load = 1e6
	}
	return c.CouplingF * (sourceOhm + load)
}
