package simbench

import (
	"math"
	"math/rand/v2"
)

// clean is an output stage that changes nothing, with edges of 60 ns.
func clean(system string, lines int, picture string) CompositeConfig {
	return CompositeConfig{
		Name: "composite", System: system, Lines: lines, VerticalPulses: "full", Picture: picture,
		OutputConfig: OutputConfig{Gain: 1, SyncRatio: 1, BurstRatio: 1, EdgeS: 60e-9, LoadOhm: 75},
	}
}

// sampled is a record that the tests measure by themselves.
type sampled struct {
	v    []float64
	from float64 // s
	dt   float64
}

// sample takes a record of a unit that has only this output.
func sample(c CompositeConfig, from, seconds, dt float64) sampled {
	input := newReservoir(DemoConfig("").Units[0].Reservoir, 50)
	s := sampled{v: make([]float64, int(seconds/dt)), from: from, dt: dt}
	newComposite(c, input).fill(s.v, from, dt, rand.New(rand.NewPCG(1, 2)))
	return s
}

// lowPulse is where a record is below a level, s.
type lowPulse struct{ begin, end float64 }

// pulsesBelow finds where the record passes a level downwards and upwards again.
func (s sampled) pulsesBelow(level float64) []lowPulse {
	var out []lowPulse
	begin := math.NaN()
	for i := 1; i < len(s.v); i++ {
		a, b := s.v[i-1]-level, s.v[i]-level
		if a*b > 0 || a == b {
			continue
		}
		at := s.from + (float64(i-1)+a/(a-b))*s.dt
		if a >= 0 && b < 0 {
			begin = at
		} else if a < 0 && !math.IsNaN(begin) {
			out = append(out, lowPulse{begin, at})
			begin = math.NaN()
		}
	}
	return out
}

// part cuts a record between two times.
func (s sampled) part(from, to float64) sampled {
	a, b := int((from-s.from)/s.dt), int((to-s.from)/s.dt)
	return sampled{v: s.v[a:b], from: s.from + float64(a)*s.dt, dt: s.dt}
}

func (s sampled) mean() float64 {
	var sum float64
	for _, x := range s.v {
		sum += x
	}
	return sum / float64(len(s.v))
}

func (s sampled) extremes() (low, high float64) {
	low, high = math.Inf(1), math.Inf(-1)
	for _, x := range s.v {
		low, high = min(low, x), max(high, x)
	}
	return low, high
}

// correlate returns amplitude (peak) and phase of a frequency in the record.
func (s sampled) correlate(hz float64) (peak, phase float64) {
	var a, b float64
	for i, x := range s.v {
		angle := 2 * math.Pi * math.Mod(hz*(s.from+float64(i)*s.dt), 1)
		a += x * math.Sin(angle)
		b += x * math.Cos(angle)
	}
	n := float64(len(s.v)) / 2
	return math.Hypot(a, b) / n, math.Atan2(b, a)
}

// cycles cuts the record to a whole number of cycles around its middle.
func (s sampled) cycles(hz float64, n int) sampled {
	middle := s.from + float64(len(s.v))*s.dt/2
	half := float64(n) / hz / 2
	return s.part(middle-half, middle+half)
}
