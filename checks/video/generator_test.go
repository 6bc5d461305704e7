package video_test

import (
	"math"
	"math/rand/v2"
)

// This generator makes composite video from the published level and timing tables
// (SMPTE 170M, ITU-R BT.470-6/BT.1700, as V-01 to V-54; console lines V-60 to V-68).
// It shares nothing with the analyser, not even the constants: it steps through
// shaped level changes at a fine time grid, filters, adds disturbances, and only
// then samples and quantises.

const us = 1e-6

// standard is one line system, in volts and seconds (V-01 to V-05, V-20 to V-30).
type standard struct {
	name                        string
	sync, white, setup, burstPP float64
	subcarrier, period          float64
	syncWidth, burstAt          float64
	burstCycles                 float64
	activeFrom, frontPorch      float64
	halfPulses, blankLines      int // equalising or broad pulses in a row; blank lines after
	equalising                  float64
}

func std625() standard {
	return standard{"625/50", 0.300, 0.700, 0, 0.300, 4.43361875e6, 64 * us,
		4.7 * us, 5.6 * us, 10, 10.5 * us, 1.55 * us, 5, 17, 2.35 * us}
}

func std525() standard {
	return standard{"525/60", 2.0 / 7, 5.0 / 7, 0.375 / 7, 2.0 / 7, 3579545.4545, 572.0 / 9 * us,
		4.7 * us, 5.3 * us, 9, 9.4 * us, 1.5 * us, 6, 11, 2.3 * us}
}

// patch is one part of a line's picture: luma from black (0) to white (1), chroma
// peak to peak in volts on it, begins at a share of the active line. Wave, if set,
// is the frequency of a sine of swing peak to peak around the luma.
type patch struct {
	from, luma, chroma, phase float64
	wave, swing               float64
}

// scene is one record to be made.
type scene struct {
	standard   standard
	rate       float64
	lines      int     // whole lines in the record
	begin      float64 // where in the first line the record begins, seconds
	fieldLines float64 // above 0: with field blanking from the first line on; 312.5 is interlaced
	picture    func(line int) []patch
	noBurst    bool
	longPulse  bool    // vertical sync is one low of three lines, without serrations
	edge       float64 // 0 to 100 % of a picture edge as it leaves the console
	zeta, fn   float64 // ringing; none if fn is 0
	lowPass    float64 // Hz of one pole; none if 0
	gain       float64 // 1 is nominal
	offset     float64
	noise      float64 // rms
	hum, humHz float64 // peak to peak
	humPhase   float64
	tone       float64 // rms
	toneHz     float64
	tilt       float64 // share of the level over the active line
	highPass   float64 // Hz of the console's output capacitor; none if 0
	ac         bool
	bits       int // 0: not quantised
	low, high  float64
	startTime  float64 // for hum over several records
	seed       uint64
}

// base is a clean line system at 25 MS/s, 8 bits over 1.6 V, without noise.
func base(s standard, picture func(int) []patch) scene {
	return scene{
		standard: s, rate: 25e6, lines: 6, begin: 30 * us, picture: picture,
		edge: 0.14 * us, gain: 1, bits: 8, low: -0.5, high: 1.1,
	}
}

// change is a new level and chroma at an instant, reached within edge seconds.
type change struct {
	at, level, chroma, phase, edge float64
	wave, swing                    float64
}

// changes lists what happens on line n, which begins at start.
func (s scene) changes(n int, start float64) []change {
	d := s.standard
	half := d.period / 2
	if s.longPulse {
		switch n % int(s.fieldLines) {
		case 0:
			return []change{{at: start, level: -d.sync, edge: 0.25 * us}}
		case 1:
			return nil
		case 2:
			return []change{{at: start + d.period - 6*us, edge: 0.25 * us}}
		}
	} else if s.fieldLines > 0 {
		first, second := s.vertical(2*n), s.vertical(2*n+1)
		if first > 0 || second > 0 {
			var out []change
			if first > 0 {
				out = append(out, change{at: start, level: -d.sync, edge: 0.25 * us}, change{at: start + first, edge: 0.25 * us})
			} else {
				out = s.syncAndBurst(n, start)
			}
			if second > 0 {
				out = append(out, change{at: start + half, level: -d.sync, edge: 0.25 * us}, change{at: start + half + second, edge: 0.25 * us})
			}
			return out
		}
	}
	out := s.syncAndBurst(n, start)
	if s.blank(n) {
		return out
	}
	active := d.period - d.frontPorch - d.activeFrom
	for _, p := range s.picture(n) {
		out = append(out, change{
			at: start + d.activeFrom + p.from*active, level: d.setup + p.luma*(d.white-d.setup),
			chroma: p.chroma, phase: p.phase, edge: s.edge, wave: p.wave, swing: p.swing,
		})
	}
	return append(out, change{at: start + d.period - d.frontPorch, edge: s.edge})
}

func (s scene) syncAndBurst(n int, start float64) []change {
	d := s.standard
	out := []change{{at: start, level: -d.sync, edge: 0.25 * us}, {at: start + d.syncWidth, edge: 0.25 * us}}
	if s.noBurst {
		return out
	}
	phase := math.Pi
	if d.subcarrier > 4e6 {
		phase = math.Pi * (0.75 + 0.5*float64(n%2))
	}
	return append(out,
		change{at: start + d.burstAt, chroma: d.burstPP, phase: phase, edge: 0.3 * us},
		change{at: start + d.burstAt + d.burstCycles/d.subcarrier, edge: 0.3 * us})
}

// vertical returns how long the pulse of half line h is if it belongs to vertical
// sync (V-51 to V-53), else 0.
func (s scene) vertical(h int) float64 {
	d := s.standard
	perField := int(2 * s.fieldLines)
	switch h %= perField; {
	case h < d.halfPulses || h >= 2*d.halfPulses && h < 3*d.halfPulses:
		return d.equalising
	case h < 2*d.halfPulses:
		return d.period/2 - 4.7*us
	}
	return 0
}

func (s scene) blank(n int) bool {
	if s.fieldLines == 0 {
		return false
	}
	h := 2 * n % int(2*s.fieldLines)
	return h < 3*s.standard.halfPulses+2*s.standard.blankLines
}

// fine is how many steps of the fine grid lie between two samples.
func (s scene) fine() int { return max(1, int(math.Ceil(1/s.rate/4e-9))) }

// wave makes the undisturbed wave on the fine grid, n samples of the record long.
func (s scene) wave(n int) []float64 {
	steps := s.fine()
	dt := 1 / s.rate / float64(steps)
	out := make([]float64, n*steps)
	line := -1
	var todo []change
	prior, now := change{}, change{}
	d := s.standard
	lead := 2 * d.period // two lines to settle the filters in
	bp := newFilters(s, dt)
	total := int(math.Round((lead+s.begin)/dt)) + len(out)
	skip := total - len(out)
	turn := 2 * math.Pi * d.subcarrier
	for i := range total {
		t := float64(i) * dt
		if next := int(t / d.period); next != line && t >= float64(line+1)*d.period {
			line = next
			todo = append(todo, s.changes(line, float64(line)*d.period)...)
		}
		for len(todo) > 0 && t >= todo[0].at {
			prior, now = now, todo[0]
			todo = todo[1:]
		}
		share := 1.0
		if x := (t - now.at) / now.edge; x < 1 {
			share = 0.5 - 0.5*math.Cos(math.Pi*x)
		}
		y := prior.level + share*(now.level-prior.level)
		if s.tilt != 0 && y > 0 {
			into := t - float64(line)*d.period - d.activeFrom
			y *= 1 - s.tilt*(into/(d.period-d.frontPorch-d.activeFrom)-0.5)
		}
		if c := prior.chroma + share*(now.chroma-prior.chroma); c != 0 {
			phase := now.phase
			if now.chroma == 0 {
				phase = prior.phase
			}
			y += c / 2 * math.Sin(turn*t+phase)
		}
		if now.swing != 0 {
			y += share * now.swing / 2 * math.Sin(2*math.Pi*now.wave*(t-now.at))
		}
		y = bp.next(y)
		if i >= skip {
			out[i-skip] = y
		}
	}
	return out
}

// filters are a second-order low-pass that rings, and one pole, by the trapezoidal
// rule.
type filters struct {
	b0, b1, b2, a1, a2 float64
	x1, x2, y1, y2     float64
	pole, px, py       float64
	mean, forget       float64
	second, first      bool
}

func newFilters(s scene, dt float64) *filters {
	f := &filters{}
	if s.fn > 0 {
		k := 1 / math.Tan(math.Pi*s.fn*dt)
		a0 := k*k + 2*s.zeta*k + 1
		f.b0, f.b1, f.b2 = 1/a0, 2/a0, 1/a0
		f.a1, f.a2 = (2-2*k*k)/a0, (k*k-2*s.zeta*k+1)/a0
		f.second = true
	}
	if s.lowPass > 0 {
		k := 1 / math.Tan(math.Pi*s.lowPass*dt)
		f.pole = k
		f.first = true
	}
	f.forget = 2 * math.Pi * s.highPass * dt
	return f
}

func (f *filters) next(x float64) float64 {
	if f.second {
		y := f.b0*x + f.b1*f.x1 + f.b2*f.x2 - f.a1*f.y1 - f.a2*f.y2
		f.x2, f.x1, f.y2, f.y1 = f.x1, x, f.y1, y
		x = y
	}
	if f.first {
		y := (x + f.px + (f.pole-1)*f.py) / (f.pole + 1)
		f.px, f.py = x, y
		x = y
	}
	f.mean += f.forget * (x - f.mean)
	return x - f.mean
}

// volts makes the record.
func (s scene) volts() []float64 {
	n := int(math.Round(float64(s.lines) * s.standard.period * s.rate))
	wave := s.wave(n)
	steps := s.fine()
	random := rand.New(rand.NewPCG(s.seed, 0x9E3779B97F4A7C15))
	out := make([]float64, n)
	var sum float64
	for i := range out {
		t := s.startTime + float64(i)/s.rate
		y := s.gain*wave[i*steps] + s.offset
		if s.hum != 0 {
			y += s.hum / 2 * math.Sin(2*math.Pi*s.humHz*t+s.humPhase)
		}
		if s.tone != 0 {
			y += s.tone * math.Sqrt2 * math.Sin(2*math.Pi*s.toneHz*t)
		}
		out[i] = y
		sum += y
	}
	for i := range out {
		if s.ac {
			out[i] -= sum / float64(n)
		}
		if s.noise != 0 {
			out[i] += s.noise * random.NormFloat64()
		}
	}
	s.convert(out)
	return out
}

// step is one code of the converter.
func (s scene) step() float64 {
	if s.bits == 0 {
		return 0
	}
	return (s.high - s.low) / (math.Exp2(float64(s.bits)) - 1)
}

func (s scene) convert(v []float64) {
	step := s.step()
	if step == 0 {
		return
	}
	for i, x := range v {
		v[i] = s.low + step*math.Round((math.Min(math.Max(x, s.low), s.high)-s.low)/step)
	}
}

// truthOfEdge steps the scene's own filters and edge from 0 to 1 and returns the
// overshoot in percent and the 10-90 % duration in seconds.
func (s scene) truthOfEdge() (overshoot, rise float64) {
	const dt = 0.5e-9
	f := newFilters(s, dt)
	t10, t90 := math.NaN(), math.NaN()
	top := 0.0
	for i := range 4000 {
		t := float64(i) * dt
		x := 1.0
		if t < s.edge {
			x = 0.5 - 0.5*math.Cos(math.Pi*t/s.edge)
		}
		y := f.next(x)
		if math.IsNaN(t10) && y >= 0.1 {
			t10 = t
		}
		if math.IsNaN(t90) && y >= 0.9 {
			t90 = t
		}
		top = math.Max(top, y)
	}
	return 100 * (top - 1), t90 - t10
}
