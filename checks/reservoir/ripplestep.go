package reservoir

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// bentCharging is what a parabola makes of the charging curve: up to 3 % of the series
// resistance in trials on closed forms, taken for the half width of a rectangular
// distribution (JCGM 100:2008, 4.3.7).
const bentCharging = 0.03 / 1.7320508

// stepFit reads capacitance and series resistance off a mean cycle that jumps where
// charging begins, as it does where the current sets in at once: the slope before
// is the load current over the capacitance, the jump the ESR times the change of
// current (W-24). The charging current just after the jump is the capacitance times
// the slope of the plates' voltage, which is the terminals' less the ESR's share of
// it on the mains' sine. ok is false where nothing jumps.
func stepFit(c cycle, s circuitStart, load float64) (farads, esr Estimate, ok bool) {
	v := rotated(c.volts, s.top)
	n := len(v)
	edge, jump := largestRise(v)
	before, after := v[n*3/20:max(edge, n*3/20)], v[min(edge+1, n):min(edge+1+max(4, n/20), n)]
	if jump < 8*c.noise || len(before) < n/4 || len(after) < 4 {
		return unknown(), unknown(), false
	}
	bin := 1 / (c.hertz * float64(n))
	fall := straightSide(centres(len(before), -float64(len(before))-0.5, bin), before)
	up, rise, riseU := parabola(centres(len(after), 0.5, bin), after)
	// Where in the bin of the edge the jump lies, from that bin's own mean.
	x := min(max((up-v[edge])/(up-fall.at0), 0), 1) - 0.5
	step := up + rise*x*bin - (fall.at0 + fall.slope*x*bin)
	bent := math.Sqrt(newLineSums(centres(len(before), 0, bin), before).squares(len(before)) / float64(len(before)))
	if !(fall.slope < 0) || !(step > 0.3*jump) || !(rise > 0) || 2*rise*bin > 0.7*jump || bent > 0.1*step {
		return unknown(), unknown(), false
	}
	farads = Estimate{Value: load / -fall.slope, U: load / (fall.slope * fall.slope) * fall.slopeU}
	omega := math.Pi * c.hertz
	if s.halfWave {
		omega *= 2
	}
	ohms := 0.0
	for range 60 {
		plates := up - ohms*farads.Value*rise
		current := farads.Value * (rise + ohms*farads.Value*omega*omega*plates)
		ohms = step / (current + load)
	}
	share := math.Hypot(math.Hypot(2*c.noise/step, bentCharging), math.Hypot(riseU/rise, farads.U/farads.Value))
	return farads, Estimate{Value: ohms, U: ohms * math.Hypot(share, 0.3*rise*bin/step)}, true
}

// rotated begins the cycle at a bin.
func rotated(v []float64, from int) []float64 {
	return append(append([]float64(nil), v[from:]...), v[:from]...)
}

// largestRise returns the bin in which the voltage jumps up, and by how much it
// rises from the bin before to the bin after.
func largestRise(v []float64) (edge int, rise float64) {
	for i := 1; i+1 < len(v); i++ {
		if d := v[i+1] - v[i-1]; d > rise {
			edge, rise = i, d
		}
	}
	return edge, rise
}

// centres are the instants of bins, counted from the middle of the edge's bin.
func centres(n int, first, bin float64) []float64 {
	t := make([]float64, n)
	for i := range t {
		t[i] = (first + 0.5 + float64(i)) * bin
	}
	return t
}

// parabola fits a parabola and returns its value and slope at 0 s, with the standard
// error of the slope.
func parabola(t, v []float64) (value, slope, slopeU float64) {
	scale := t[len(t)-1]
	rows := mat.NewDense(len(t), 3, nil)
	for i := range t {
		x := t[i] / scale
		rows.SetRow(i, []float64{1, x, x * x})
	}
	var fit, made mat.VecDense
	if err := fit.SolveVec(rows, mat.NewVecDense(len(v), v)); err != nil {
		return math.NaN(), math.NaN(), math.NaN()
	}
	made.MulVec(rows, &fit)
	left := 0.0
	for i := range v {
		left += (v[i] - made.AtVec(i)) * (v[i] - made.AtVec(i))
	}
	// About 14 standard deviations over the root of the number: the end of a parabola.
	u := 14 * math.Sqrt(left/float64(max(1, len(v)-3))/float64(len(v)))
	return fit.AtVec(0), fit.AtVec(1) / scale, u / scale
}
