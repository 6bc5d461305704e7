package simbench

import (
	"math"
	"math/rand/v2"
)

// point is a place on a unit that an instrument can be wired to.
type point interface {
	// fill sets v[i] to the value at start + i step, seconds on the bench's
	// clock; volts unless the point says celsius.
	fill(v []float64, start, step float64, chance *rand.Rand)
	celsius() bool
	// amperes is the load current through the point, NaN where it has none.
	amperes(t float64) float64
}

// voltage is embedded by points that are plain voltages.
type voltage struct{}

func (voltage) celsius() bool           { return false }
func (voltage) amperes(float64) float64 { return math.NaN() }

// change is a departure that begins at a time: a step, a drift, or added noise
// or ripple.
type change struct {
	from                      float64 // s
	step, driftPerS           float64 // V, V/s
	noiseRMS, ripplePeakVolts float64 // V
}

// rail is a linear regulator: its nominal less the load's drop, what is left of
// the input's ripple, and never more than its input less the drop-out.
type rail struct {
	config  RailConfig
	input   *reservoir
	changes []change
}

func (r *rail) fill(v []float64, start, step float64, chance *rand.Rand) {
	rejection := math.Pow(10, -r.config.RejectionDB/20)
	for i := range v {
		v[i] = r.at(start+float64(i)*step, rejection, chance)
	}
}

// at is one sample: the regulated level with its changes, what gets through of the
// input's ripple, the drop-out as a ceiling, noise on top.
func (r *rail) at(t, rejection float64, chance *rand.Rand) float64 {
	out := r.config.NominalV - r.config.SourceOhm*r.config.LoadA + r.config.DriftVPerS*t
	noise := r.config.NoiseRMSV
	for _, c := range r.changes {
		if t < c.from {
			continue
		}
		out += c.step + c.driftPerS*(t-c.from)
		out += c.ripplePeakVolts * math.Sin(4*math.Pi*r.input.mainsHz*t)
		noise = math.Hypot(noise, c.noiseRMS)
	}
	in := r.input.at(t)
	if r.input.powered(t) {
		out += (in - r.input.average) * rejection
	}
	out = max(0, min(out, in-r.config.DropoutV))
	return out + noise*chance.NormFloat64()
}

func (r *rail) celsius() bool { return false }

// amperes is the load's current: constant while the rail regulates, in
// proportion below.
func (r *rail) amperes(t float64) float64 {
	available := (r.input.at(t) - r.config.DropoutV) / r.config.NominalV
	return r.config.LoadA * max(0, min(1, available))
}

// store is the test point across the reservoir.
type store struct {
	voltage
	*reservoir
}

func (s store) fill(v []float64, start, step float64, _ *rand.Rand) {
	for i := range v {
		v[i] = s.at(start + float64(i)*step)
	}
}

// amperes is the load while it is regulated; a dead unit's is not known.
func (s store) amperes(t float64) float64 {
	if s.powered(t) {
		return s.config.LoadA
	}
	return math.NaN()
}
