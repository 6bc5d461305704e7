package video

import (
	"math"
	"math/cmplx"
)

// measureNoise pools the variance of flat parts about a straight line and about the
// tones that were found, and takes out what quantisation adds (step²/12, Sheppard).
// A flat part without noise sits on one code: the figure is then 0 and its
// uncertainty a step/sqrt(12), as it is for all noise that is too small to dither.
func (a *analysis) measureNoise() {
	pieces := a.noisePieces()
	if len(pieces) == 0 {
		return
	}
	lefts := make([]float64, len(pieces))
	for i, g := range pieces {
		lefts[i] = a.leftOver(g)
	}
	typical := median(lefts)
	var sum, degrees float64
	for i, g := range pieces {
		if lefts[i] <= 3*typical {
			d := float64(len(g.v) - 2 - 2*len(a.result.Tones))
			sum, degrees = sum+d*lefts[i], degrees+d
		}
	}
	if degrees < 8 {
		return
	}
	variance := math.Max(0, sum/degrees-a.step*a.step/12)
	rms := math.Sqrt(variance)
	u := math.Max(rms, math.Sqrt(sum/degrees)/2) / math.Sqrt(2*degrees)
	if rms < 0.6*a.step {
		u = math.Hypot(u, a.step/math.Sqrt(12))
	}
	a.result.NoiseVolts = Measured{Value: rms, U: u}
	a.result.NoiseBandwidthHertz = a.record.rate() / 2
}

// noisePieces picks flat parts of picture, sync tip and porch, at most some ten
// thousand samples.
func (a *analysis) noisePieces() []gate {
	const most = 64
	var pieces []gate
	for _, i := range spaced(len(a.gates), most) {
		pieces = append(pieces, a.gates[i])
	}
	var wide []flat
	for _, f := range a.flats {
		if !f.coloured && f.seconds() >= 2.5*microsecond && !a.flatClipped(f) {
			wide = append(wide, f)
		}
	}
	for _, i := range spaced(len(wide), most) {
		f := wide[i]
		if g, _, ok := a.newGate(f.from+settle, math.Min(f.to, f.from+6*microsecond)-0.35*microsecond); ok {
			pieces = append(pieces, g)
		}
	}
	return pieces
}

// leftOver is the variance of a gate about a straight line and the tones.
func (a *analysis) leftOver(g gate) float64 {
	if len(a.result.Tones) == 0 {
		return g.left
	}
	v := levelled(g.v)
	dt := a.record.SampleIntervalSeconds
	// Over a few cycles line and sines are not independent: a few rounds settle it.
	for range 4 {
		for _, t := range a.result.Tones {
			subtract(v, phasor(v, g.start, dt, t.Hertz.Value), g.start, dt, t.Hertz.Value)
		}
		v = levelled(v)
	}
	var sum float64
	for _, x := range v {
		sum += x * x
	}
	return sum / math.Max(1, float64(len(v)-2-2*len(a.result.Tones)))
}

// subtract takes the sine that z describes out of v.
func subtract(v []float64, z complex128, start, dt, hertz float64) {
	turn := cmplx.Rect(1, 2*math.Pi*hertz*dt)
	w := z * cmplx.Rect(1, 2*math.Pi*hertz*start)
	for i := range v {
		v[i] -= real(w)
		w *= turn
	}
}
