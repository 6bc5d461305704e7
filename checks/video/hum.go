package video

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// measureHum fits mains hum to the blanking of the lines of one record.
func (a *analysis) measureHum() {
	var t, v []float64
	for _, l := range a.lines {
		if !math.IsNaN(l.porch) {
			t, v = append(t, l.start), append(v, l.porch)
		}
	}
	r := &a.result
	r.blankingAt, r.blankings = t, v
	r.HumVolts, r.HumHertz = humOf(t, v, a.options.MainsHertz)
}

// humOf fits a steady level, the mains frequency and its second harmonic to levels v
// at instants t in seconds, for the mains frequency given or for the better of 50
// and 60 Hz, and returns the peak-to-peak value of the two sines and the stronger
// one's frequency. Mains may be off by 0.5 %. Not measured unless the instants span
// nearly a cycle and there are 8 or more. In one record of about a frame, hum can't
// be told from sag at the field rate.
func humOf(t, v []float64, mains float64) (peakToPeak Measured, hertz float64) {
	best := humFit{left: math.Inf(1)}
	for _, nominal := range []float64{50, 60} {
		if mains != 0 && mains != nominal || len(t) < 8 {
			continue
		}
		span := t[len(t)-1] - t[0]
		if span < 0.9/nominal {
			continue
		}
		steps := min(200, int(math.Ceil(0.005*nominal*4*span)))
		for k := -steps; k <= steps; k++ {
			f := nominal * (1 + 0.005*float64(k)/float64(max(1, steps)))
			if steps == 1 && k != 0 {
				continue
			}
			if fit, ok := fitHum(t, v, f); ok && fit.left < best.left {
				best = fit
			}
		}
	}
	if math.IsInf(best.left, 1) {
		return notMeasured(), math.NaN()
	}
	return best.figures(len(t))
}

// humFit is level, cosine and sine of the mains frequency and of its double.
type humFit struct {
	hertz, left float64
	c           [5]float64
}

func fitHum(t, v []float64, hertz float64) (fit humFit, ok bool) {
	design := mat.NewDense(len(t), 5, nil)
	for i, at := range t {
		s, c := math.Sincos(2 * math.Pi * hertz * (at - t[0]))
		design.SetRow(i, []float64{1, c, s, c*c - s*s, 2 * s * c})
	}
	var normal mat.SymDense
	normal.SymOuterK(1, design.T())
	var factor mat.Cholesky
	if !factor.Factorize(&normal) || factor.Cond() > 1e4 {
		return fit, false
	}
	var right, solved mat.VecDense
	right.MulVec(design.T(), mat.NewVecDense(len(v), v))
	if factor.SolveVecTo(&solved, &right) != nil {
		return fit, false
	}
	fit.hertz = hertz
	for i := range fit.c {
		fit.c[i] = solved.AtVec(i)
	}
	for i := range t {
		var y float64
		for k, c := range fit.c {
			y += c * design.At(i, k)
		}
		fit.left += (v[i] - y) * (v[i] - y)
	}
	return fit, true
}

// figures returns the peak-to-peak value over a cycle; n is how many levels were
// fitted.
func (f humFit) figures(n int) (peakToPeak Measured, hertz float64) {
	low, high := math.Inf(1), math.Inf(-1)
	const points = 200
	for i := range points {
		s, c := math.Sincos(2 * math.Pi * float64(i) / points)
		y := f.c[1]*c + f.c[2]*s + f.c[3]*(c*c-s*s) + f.c[4]*2*s*c
		low, high = math.Min(low, y), math.Max(high, y)
	}
	sd := math.Sqrt(f.left / math.Max(1, float64(n-5)))
	hertz = f.hertz
	if math.Hypot(f.c[3], f.c[4]) > math.Hypot(f.c[1], f.c[2]) {
		hertz *= 2
	}
	return Measured{Value: high - low, U: 2 * math.Sqrt2 * sd / math.Sqrt(float64(n))}, hertz
}
