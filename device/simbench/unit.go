package simbench

import (
	"hash/fnv"
	"math"
	"math/rand/v2"
	"sync"
)

// unit is one console with its test points. Instruments read it from their own
// goroutines; mu keeps changes and chance in order.
type unit struct {
	config UnitConfig

	mu        sync.Mutex
	chance    *rand.Rand
	points    map[string]point
	reservoir *reservoir
	rails     map[string]*rail
	tones     map[string]*tone
	composite *composite
	// fresh are copies of what faults may change, for clear.
	freshReservoir ReservoirConfig
	freshComposite CompositeConfig
}

// newUnit builds a unit that has been powered for long.
func newUnit(c UnitConfig, seed uint64) *unit {
	u := &unit{
		config: c, chance: newChance(seed, c.Asset), points: map[string]point{},
		reservoir: newReservoir(c.Reservoir, c.MainsHz), freshReservoir: c.Reservoir,
		rails: map[string]*rail{}, tones: map[string]*tone{},
	}
	u.points[c.Reservoir.Name] = store{reservoir: u.reservoir}
	u.points[c.Case.Name] = &warmth{config: c.Case}
	for _, r := range c.Rails {
		u.rails[r.Name] = &rail{config: r, input: u.reservoir}
		u.points[r.Name] = u.rails[r.Name]
	}
	for _, t := range c.Tones {
		u.tones[t.Name] = &tone{config: t, input: u.reservoir}
		u.points[t.Name] = u.tones[t.Name]
	}
	if c.Composite != nil {
		u.composite = newComposite(*c.Composite, u.reservoir)
		u.freshComposite = *c.Composite
		u.points[c.Composite.Name] = u.composite
	}
	return u
}

// newChance gives every unit and instrument a source of its own, so that what
// one draws does not move what another sees.
func newChance(seed uint64, name string) *rand.Rand {
	h := fnv.New64a()
	_, _ = h.Write([]byte(name)) // a hash never fails
	return rand.New(rand.NewPCG(seed, h.Sum64()))
}

// wire is one channel's connection.
type wire struct {
	unit  *unit
	name  string
	probe float64
}

// fill sets v to what arrives at the instrument: the point's voltage behind the
// probe really fitted. A nil wire is an open input.
func (w *wire) fill(v []float64, start, step float64) {
	if w == nil {
		clear(v)
		return
	}
	w.unit.mu.Lock()
	defer w.unit.mu.Unlock()
	w.unit.points[w.name].fill(v, start, step, w.unit.chance)
	if w.probe != 1 {
		for i := range v {
			v[i] /= w.probe
		}
	}
}

func (w *wire) celsius() bool { return w != nil && w.unit.points[w.name].celsius() }

// amperes is the current through the point, NaN for an open input.
func (w *wire) amperes(t float64) float64 {
	if w == nil {
		return math.NaN()
	}
	w.unit.mu.Lock()
	defer w.unit.mu.Unlock()
	return w.unit.points[w.name].amperes(t)
}

// power switches the unit at t; switching to what it is already does nothing.
func (u *unit) power(on bool, t float64) {
	u.mu.Lock()
	defer u.mu.Unlock()
	switch {
	case on == u.reservoir.powered(t):
	case on:
		u.reservoir.powerOn(t)
	default:
		u.reservoir.powerOff(t)
	}
}
