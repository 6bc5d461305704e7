package simbench

import (
	"math"
	"math/rand/v2"
)

// composite is one composite video output: the frame's ideal levels through the
// output stage. Levels pass as a sum of step responses, the colour signal by the
// stage's gain and phase at the subcarrier, so a record of any sample interval
// is exact.
type composite struct {
	voltage
	config  CompositeConfig
	input   *reservoir
	frame   *frame
	system  videoSystem
	pulse   edge // of sync pulses
	picture edge
	ahead   float64 // s, how early the longest edge begins
	tau     float64 // s, of the coupling capacitor; 0: none
	gain    float64
	chroma  float64 // gain
	phase   float64 // rad
}

func newComposite(c CompositeConfig, input *reservoir) *composite {
	p := &composite{config: c, input: input}
	p.rebuild()
	return p
}

// rebuild follows a change of the configuration.
func (p *composite) rebuild() {
	c := p.config
	p.system = c.system()
	p.frame = newFrame(c)
	p.pulse, p.picture = newEdge(p.system.syncEdge, c.OutputConfig), newEdge(c.EdgeS, c.OutputConfig)
	p.ahead = max(p.pulse.before, p.picture.before, chromaEdge/2)
	p.gain = c.Gain * c.termination()
	p.chroma, p.phase = c.response(p.system.subcarrierHz)
	p.tau = c.couplingSeconds()
	if p.tau > 0 {
		p.frame.settle(p.tau)
	}
}

// fill adds to the frame what the stage and its surroundings do: gain, offset,
// hum at the mains frequency, a steady tone, noise. A dead unit leaves noise.
func (p *composite) fill(v []float64, start, step float64, chance *rand.Rand) {
	c := p.config
	reader := cursor{composite: p}
	hum, humRate := c.HumPPV/2, 2*math.Pi*p.input.mainsHz
	tone, toneRate := c.ToneRMSV*math.Sqrt2, 2*math.Pi*c.ToneHz
	for i := range v {
		t := start + float64(i)*step
		if !p.input.powered(t) {
			v[i] = c.NoiseRMSV / 10 * chance.NormFloat64()
			continue
		}
		volts := c.OffsetV + p.gain*reader.at(t)
		if hum != 0 {
			volts += hum * math.Sin(humRate*t)
		}
		if tone != 0 {
			volts += tone * math.Sin(toneRate*t)
		}
		v[i] = volts + c.NoiseRMSV*chance.NormFloat64()
	}
}

// cursor reads the frame at moments that mostly follow one another.
type cursor struct {
	*composite
	index int
}

// at returns the stage's output before its gain, offset and disturbances.
func (r *cursor) at(t float64) float64 {
	inFrame := t - math.Floor(t/r.frame.seconds)*r.frame.seconds
	early := inFrame + r.ahead
	if early >= r.frame.seconds {
		early -= r.frame.seconds
	}
	r.seek(early)
	v := r.luma(early)
	if r.tau > 0 {
		v -= r.followed(early)
	}
	return v + r.colour(t, early)
}

// seek moves to the segment that stands at a moment of the frame.
func (r *cursor) seek(at float64) {
	f := r.frame
	half := min(int(at/(f.line/2)), len(f.first)-1)
	i := r.index
	if f.segments[i].start > at || i < f.first[half] {
		i = f.first[half]
	}
	for i+1 < len(f.segments) && f.segments[i+1].start <= at {
		i++
	}
	r.index = i
}

// luma is the level of the current segment less what is still missing of the
// steps that lead to it.
func (r *cursor) luma(at float64) float64 {
	f := r.frame
	v := f.segments[r.index].level
	reach := max(r.pulse.length()-r.pulse.before, r.picture.length()-r.picture.before) + r.ahead
	for i, wrapped := r.index, 0.0; ; i-- {
		if i < 0 {
			i, wrapped = len(f.segments)-1, f.seconds
		}
		s := f.segments[i]
		since := at + wrapped - s.start
		if since > reach || wrapped > 0 && i == r.index {
			return v
		}
		e := &r.picture
		if s.sync {
			e = &r.pulse
		}
		v -= f.step[i] * e.missingAt(since-r.ahead)
	}
}

// missingAt is how much of a step is missing t seconds after its half-amplitude
// point.
func (e *edge) missingAt(t float64) float64 {
	t += e.before
	if t < 0 {
		return 1
	}
	return e.at(t)
}

// followed is what the coupling capacitor has charged to.
func (r *cursor) followed(at float64) float64 {
	s := r.frame.segments[r.index]
	return s.level + (s.mean-s.level)*math.Exp(-(at-s.start)/r.tau)
}

// chromaEdge is how long the colour signal takes from one patch to the next.
const chromaEdge = 0.3e-6 // s

// colour is the subcarrier, crossing over from the segment before.
func (r *cursor) colour(t, at float64) float64 {
	f := r.frame
	s := f.segments[r.index]
	before := f.segments[(r.index+len(f.segments)-1)%len(f.segments)]
	u, v := s.u, s.v
	if share := (at - s.start - r.ahead + chromaEdge/2) / chromaEdge; share < 1 {
		share = raisedCosine(share)
		u, v = before.u+share*(s.u-before.u), before.v+share*(s.v-before.v)
	}
	if u == 0 && v == 0 {
		return 0
	}
	if r.system.alternating && int64(math.Floor(t/f.line))%2 != 0 {
		v = -v
	}
	cycles := r.system.subcarrierHz * t
	sin, cos := math.Sincos(2*math.Pi*(cycles-math.Floor(cycles)) + r.phase)
	return r.chroma * (u*sin + v*cos)
}
