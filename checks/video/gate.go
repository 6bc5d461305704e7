package video

import "math"

// gate is a stretch of samples that should be flat.
type gate struct {
	v     []float64
	start float64 // of the first sample, in seconds
	// left is the variance of the samples about a straight line.
	left float64
}

// newGate takes the samples from one instant to another; ok is false if the record
// has too few of them.
func (a *analysis) newGate(from, to float64) (g gate, middle float64, ok bool) {
	v, start := a.record.between(from, to)
	if len(v) < 3 || float64(len(v)) < 0.8*(to-from)/a.record.SampleIntervalSeconds {
		return gate{}, math.NaN(), false
	}
	middle, _, left := straight(v)
	return gate{v: v, start: start, left: left}, middle, true
}

// settle is kept clear of every edge: ringing has mostly died away after it.
const settle = 0.7 * microsecond

// mostGates is on how many lines, at most, the noise of tip and porch is looked at.
const mostGates = 128

// readGates averages sync tip and blanking of every line and keeps the samples of
// some lines for the noise.
func (a *analysis) readGates() {
	a.gates = a.gates[:0]
	every := max(1, len(a.lines)/mostGates)
	for i := range a.lines {
		l := &a.lines[i]
		l.tip, l.porch = math.NaN(), math.NaN()
		tipFrom, tipTo := l.tipGate()
		porchFrom, porchTo := a.porchGate(*l)
		if i%every != 0 {
			l.tip, l.porch = a.meanBetween(tipFrom, tipTo), a.meanBetween(porchFrom, porchTo)
			continue
		}
		if g, middle, ok := a.newGate(tipFrom, tipTo); ok {
			l.tip = middle
			a.gates = append(a.gates, g)
		}
		if g, middle, ok := a.newGate(porchFrom, porchTo); ok {
			l.porch = middle
			a.gates = append(a.gates, g)
		}
	}
	a.sigma = math.Sqrt(a.medianLeft())
}

// firstNoise estimates the noise from some sync tips, before more is known.
func (a *analysis) firstNoise() {
	for _, i := range spaced(len(a.lines), mostGates/2) {
		from, to := a.lines[i].tipGate()
		if g, _, ok := a.newGate(from, to); ok {
			a.gates = append(a.gates, g)
		}
	}
	a.sigma = math.Sqrt(a.medianLeft())
}

// tipGate is where sync tip is flat.
func (l line) tipGate() (from, to float64) {
	end := l.syncEnd
	if math.IsNaN(end) {
		end = l.start + 4.7*microsecond
	}
	return l.start + settle, end - settle
}

// porchGate is where blanking is flat: on the back porch after the burst, or on the
// front porch where the record ends before.
func (a *analysis) porchGate(l line) (from, to float64) {
	if l.start+a.nominal.porchTo > a.record.seconds() {
		return l.start - 1.1*microsecond, l.start - 0.35*microsecond
	}
	return l.start + a.nominal.porchFrom, l.start + a.nominal.porchTo
}

// meanBetween is the mean of the samples from one instant to another; NaN if the
// record has too few of them.
func (a *analysis) meanBetween(from, to float64) float64 {
	v, _ := a.record.between(from, to)
	if len(v) < 3 || float64(len(v)) < 0.8*(to-from)/a.record.SampleIntervalSeconds {
		return math.NaN()
	}
	return mean(v)
}

// medianLeft is the median variance of the gates, which a few that are not flat
// don't move.
func (a *analysis) medianLeft() float64 {
	some := make([]float64, 0, 256)
	for _, i := range spaced(len(a.gates), 256) {
		some = append(some, a.gates[i].left)
	}
	m := median(some)
	if math.IsNaN(m) {
		return 0
	}
	return m
}

// levelU is the uncertainty of the mean of n samples of something flat: noise,
// quantisation, and 0.13 % of the nominal picture for what gates leave over (value
// from synthetic records).
func (a *analysis) levelU(n float64) float64 {
	own := math.Sqrt(math.Max(0, a.sigma*a.sigma-a.step*a.step/12))
	return math.Sqrt(a.sigma*a.sigma/math.Max(n, 1) + square(quantisationU(a.step, own)) + square(1.3e-3*a.scale()*a.nominal.whiteVolts))
}

// scale is how large the signal is against nominal, from its sync.
func (a *analysis) scale() float64 { return a.depth / a.nominal.syncVolts }

func square(x float64) float64 { return x * x }
