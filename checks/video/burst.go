package video

import (
	"math"
	"math/cmplx"
)

// Where a colour burst may lie after the leading edge of sync: 5.3 to 7.8 us and
// 5.6 to 7.9 us in the standards, a little wider on consoles.
const burstFrom, burstTo = 5.0 * microsecond, 8.3 * microsecond

// burstLines is on how many lines, at most, the burst is measured.
const burstLines = 32

// highestShare is the highest frequency that is measured, as a share of the sample
// rate.
const highestShare = 0.45

// findBurst measures the colour burst on up to burstLines lines, at whichever subcarrier it
// is stronger.
func (a *analysis) findBurst() {
	best := burstFit{}
	for _, hertz := range []float64{nominal525.subcarrierHertz, nominal625.subcarrierHertz} {
		if hertz > highestShare*a.record.rate() {
			continue
		}
		f := a.burstAt(hertz)
		// Crystals are within some hundred hertz; what is further off is the other
		// subcarrier, or one that is folded down by too low a sample rate.
		if f.hertz.U > 50e3 || math.Abs(f.hertz.Value-hertz) > math.Max(5e3, 6*f.hertz.U) {
			continue
		}
		folded := hertz < 4e6 && a.period >= periodBetween && nominal625.subcarrierHertz > highestShare*a.record.rate()
		if f.peakToPeak.Value > best.peakToPeak.Value && !folded {
			best = f
		}
	}
	// A burst below a sixth of sync, or within the noise, is none.
	floor := math.Max(a.depth/6, 8*best.peakToPeak.U)
	if best.peakToPeak.Value > floor {
		a.result.BurstPeakToPeakVolts, a.result.BurstHertz = best.peakToPeak, best.hertz
	}
}

type burstFit struct{ peakToPeak, hertz Measured }

// burstWindow is the part of one line in which a burst may lie, closer samples
// averaged to 16 ns.
type burstWindow struct {
	v         []float64
	start, dt float64 // instant of the first and interval, in seconds
}

func (a *analysis) burstWindow(l line) burstWindow {
	own := a.record.SampleIntervalSeconds
	v, start := a.record.between(l.start+burstFrom-0.3*microsecond, l.start+burstTo+0.3*microsecond)
	take := max(1, int(spectrumInterval/own))
	dt := float64(take) * own
	return burstWindow{v: averaged(v, take), start: start + (dt-own)/2, dt: dt}
}

// between returns the samples from one instant to another, with that of the first.
func (w burstWindow) between(from, to float64) (v []float64, start float64) {
	i := min(max(0, int(math.Ceil((from-w.start)/w.dt))), len(w.v))
	j := min(max(i, int(math.Floor((to-w.start)/w.dt))+1), len(w.v))
	return w.v[i:j], w.start + float64(i)*w.dt
}

// burstAt measures the burst near hertz: where it lies by its strength in single
// cycles, its amplitude over the middle of that, and its frequency from how far
// the phase runs away over it.
func (a *analysis) burstAt(hertz float64) burstFit {
	var amplitudes, offsets []float64
	for _, i := range spaced(len(a.lines), burstLines) {
		l := a.lines[i]
		w := a.burstWindow(l)
		from, to, ok := w.span(l.start, hertz)
		if !ok {
			continue
		}
		margin := 0.15 * (to - from)
		v, start := w.between(from+margin, to-margin)
		amplitude, drift := cycles(v, start, w.dt, hertz)
		if !math.IsNaN(amplitude + drift) {
			amplitudes = append(amplitudes, amplitude/boxGain(hertz, w.dt, a.record.SampleIntervalSeconds))
			offsets = append(offsets, drift)
		}
	}
	if len(amplitudes) == 0 {
		return burstFit{}
	}
	perLine := 1.4 * microsecond / a.record.SampleIntervalSeconds
	own := a.sigma * math.Sqrt(2/perLine)
	m := meanOf(amplitudes, own)
	// Frequency of a sine in noise over T: sqrt(6)/pi/T sigma/(A sqrt(n)).
	f := meanOf(offsets, math.Sqrt(6)/math.Pi/(1.4*microsecond)*a.sigma/(m.Value*math.Sqrt(perLine)))
	f.Value += hertz
	return burstFit{peakToPeak: m.times(2), hertz: f}
}

// span returns where the burst of the line that begins at start is stronger than
// half its peak.
func (w burstWindow) span(start, hertz float64) (from, to float64, ok bool) {
	cycle := 1 / hertz
	begin := start + burstFrom
	strength := make([]float64, int((burstTo-burstFrom)/cycle*2))
	peak := 0.0
	for k := range strength {
		at := begin + float64(k)*cycle/2
		v, first := w.between(at-cycle, at+cycle)
		strength[k] = cmplx.Abs(phasor(v, first, w.dt, hertz))
		peak = math.Max(peak, strength[k])
	}
	first, last := -1, -1
	for k, s := range strength {
		if s > peak/2 {
			if first < 0 {
				first = k
			}
			last = k
		}
	}
	if first < 0 || last-first < 4 {
		return 0, 0, false
	}
	return begin + float64(first)*cycle/2, begin + float64(last)*cycle/2, true
}

// cycles returns the amplitude of the sine in v near hertz, and how far its
// frequency is from hertz. The phase is compared between the two halves, and the
// amplitude taken at the frequency that follows.
func cycles(v []float64, start, dt, hertz float64) (amplitude, drift float64) {
	half := len(v) / 2
	if half < 4 {
		return math.NaN(), math.NaN()
	}
	for range 3 {
		f := hertz + drift
		p := phasor(v[:half], start, dt, f)
		q := phasor(v[half:], start+float64(half)*dt, dt, f)
		apart := float64(len(v)) / 2 * dt
		drift += cmplx.Phase(q/p) / (2 * math.Pi * apart)
	}
	return cmplx.Abs(phasor(v, start, dt, hertz+drift)), drift
}

// phasor fits offset, cosine and sine of one frequency to v by least squares and
// returns cosine - i sine: its size is the amplitude in volts, its angle the phase
// at instant 0.
func phasor(v []float64, start, dt, hertz float64) complex128 {
	n := float64(len(v))
	if n < 4 {
		return 0
	}
	turn := cmplx.Rect(1, -2*math.Pi*hertz*dt)
	w := cmplx.Rect(1, -2*math.Pi*hertz*start)
	var c, s, cc, ss, cs, y, yc, ys float64
	for _, x := range v {
		re, im := real(w), -imag(w)
		c, s, y = c+re, s+im, y+x
		cc, ss, cs = cc+re*re, ss+im*im, cs+re*im
		yc, ys = yc+x*re, ys+x*im
		w *= turn
	}
	// The offset eliminated, two normal equations are left.
	cc, ss, cs = cc-c*c/n, ss-s*s/n, cs-c*s/n
	yc, ys = yc-y*c/n, ys-y*s/n
	d := cc*ss - cs*cs
	if d <= 1e-9*n*n {
		return 0
	}
	return complex((yc*ss-ys*cs)/d, (yc*cs-ys*cc)/d)
}
