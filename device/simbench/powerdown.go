package simbench

import (
	"math"
	"slices"
)

// supplyPhase is how a reservoir stands from one moment on.
type supplyPhase struct {
	from    float64 // s on the bench's clock
	mains   bool
	current float64 // A, constant; used if above 0
	ohm     float64
	start   charge
}

// reservoir is the capacitor of one unit through power-off, discharge clips and
// power-on. Its phases are in the order of time.
type reservoir struct {
	config  ReservoirConfig
	mainsHz float64
	shape   mainsShape
	average float64
	phases  []supplyPhase
}

// newReservoir has been on the mains for as long as anybody can ask.
func newReservoir(c ReservoirConfig, mainsHz float64) *reservoir {
	r := &reservoir{config: c, mainsHz: mainsHz}
	r.reshape()
	r.phases = []supplyPhase{{from: math.Inf(-1), mains: true}}
	return r
}

// reshape follows a change of the configuration.
func (r *reservoir) reshape() {
	r.shape = newMainsShape(r.config, r.mainsHz)
	r.average = r.shape.mean()
}

// empty has been off for as long as anybody can ask.
func (r *reservoir) empty() {
	r.phases = []supplyPhase{{from: math.Inf(-1), ohm: r.config.DeadLoadOhm}}
}

// phase is the one that stands at t: records look back a little.
func (r *reservoir) phase(t float64) supplyPhase {
	i := len(r.phases) - 1
	for i > 0 && r.phases[i].from > t {
		i--
	}
	return r.phases[i]
}

// at returns volts at t seconds on the bench's clock.
func (r *reservoir) at(t float64) float64 {
	p := r.phase(t)
	if p.mains {
		return r.shape.at(t)
	}
	return r.charge(p, t).plates
}

// charge is what the capacitor holds in a phase; on the mains the absorbing branch
// has long followed.
func (r *reservoir) charge(p supplyPhase, t float64) charge {
	if p.mains {
		v := r.shape.at(t)
		return charge{v, v}
	}
	if p.current > 0 {
		return newDielectric(r.config).drain(p.start, p.current, t-p.from)
	}
	return newDielectric(r.config).decay(p.start, p.ohm, t-p.from)
}

// powerOff begins the discharge at t: at constant current down to where the
// rails stop regulating, then through the dead load.
func (r *reservoir) powerOff(t float64) {
	now := r.phase(t)
	if !now.mains {
		return
	}
	start := r.charge(now, t)
	r.cut(t)
	floor := r.config.RegulatesDownToV
	if start.plates > floor {
		draining := supplyPhase{from: t, current: r.config.LoadA, start: start}
		r.phases = append(r.phases, draining)
		t, start = r.reaches(draining, floor)
	}
	r.phases = append(r.phases, supplyPhase{from: t, ohm: r.config.DeadLoadOhm, start: start})
}

// reaches finds when a constant-current phase comes down to volts.
func (r *reservoir) reaches(p supplyPhase, volts float64) (float64, charge) {
	total := r.config.CapacitanceF * (1 + r.config.AbsorptionRatio)
	low, high := p.from, p.from+p.start.plates*total/p.current
	for range 80 {
		middle := (low + high) / 2
		if r.charge(p, middle).plates > volts {
			low = middle
		} else {
			high = middle
		}
	}
	return high, r.charge(p, high)
}

// clip puts a resistor across the dead capacitor from t for the given seconds.
func (r *reservoir) clip(t, ohm, seconds float64) bool {
	now := r.phase(t)
	if now.mains {
		return false
	}
	start := r.charge(now, t)
	r.cut(t)
	dead := r.config.DeadLoadOhm
	held := supplyPhase{from: t, ohm: ohm * dead / (ohm + dead), start: start}
	off := t + seconds
	r.phases = append(r.phases, held, supplyPhase{from: off, ohm: dead, start: r.charge(held, off)})
	return true
}

// powerOn is back on the sine at once: the inrush is shorter than any reading.
func (r *reservoir) powerOn(t float64) {
	r.cut(t)
	r.phases = append(r.phases, supplyPhase{from: t, mains: true})
}

// phasesKept is how far back a reader may ask: a record begins at most seconds ago.
const phasesKept = 8

// cut forgets what was to come after t, and what no reader can still ask for.
func (r *reservoir) cut(t float64) {
	for len(r.phases) > 1 && r.phases[len(r.phases)-1].from >= t {
		r.phases = r.phases[:len(r.phases)-1]
	}
	if len(r.phases) > phasesKept {
		r.phases = slices.Clone(r.phases[len(r.phases)-phasesKept:])
	}
}

// powered tells whether the mains is on at t.
func (r *reservoir) powered(t float64) bool { return r.phase(t).mains }
