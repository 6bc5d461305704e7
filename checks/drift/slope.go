package drift

import "math"

// Slope is how fast a series changes, with an interval that allows for readings
// that resemble their neighbours. Per second.
type Slope struct {
	PerSecond, Low, High float64
	// SE is the standard error, Freedom its effective degrees of freedom.
	SE, Freedom float64
	// Autocorrelation is that of neighbouring residuals, Inflation how many times
	// the variance was raised for it.
	Autocorrelation, Inflation float64

	line       Line
	confidence float64
}

// coarse is to how many batches a record is also looked at, so that a slow wander
// below independent noise is not missed: the noise hides it from neighbours.
const coarse = 32

// SlopeOf returns the least squares slope of v over t (seconds) with its interval
// at a confidence such as 0.95. The interval is the wider of two, from the points
// as they are and from at most 32 means of neighbouring points. It fails with
// ErrTooFew as FitLine does. Where the effective number of points is two or less,
// Low and High are infinite: nothing is known.
func SlopeOf(t, v []float64, confidence float64) (Slope, error) {
	fine, err := slopeAt(t, v, confidence)
	if err != nil || len(t) < 2*coarse {
		return fine, err
	}
	wide, err := slopeAt(merged(t, len(t)/coarse), merged(v, len(v)/coarse), confidence)
	// Times that coincide when merged leave the fine view.
	if err != nil || wide.High-wide.Low <= fine.High-fine.Low {
		return fine, nil
	}
	// The best slope is still that of all points.
	reach := (wide.High - wide.Low) / 2
	wide.Low, wide.High = fine.PerSecond-reach, fine.PerSecond+reach
	wide.PerSecond, wide.line = fine.PerSecond, fine.line
	if wide.Freedom > 0 {
		wide.SE = reach / studentQuantile((1+confidence)/2, wide.Freedom)
	}
	return wide, nil
}

func slopeAt(t, v []float64, confidence float64) (Slope, error) {
	l, err := FitLine(t, v)
	if err != nil {
		return Slope{}, err
	}
	return slopeWith(l, residualLag1(l.residuals(t, v)), confidence), nil
}

// slopeWith allows for an autocorrelation r of neighbouring residuals.
func slopeWith(l Line, r, confidence float64) Slope {
	by := inflation(r)
	s := Slope{
		PerSecond: l.Slope, Autocorrelation: r, Inflation: by,
		Freedom: float64(l.N)/by - 2, Low: math.Inf(-1), High: math.Inf(1), SE: math.Inf(1),
		line: l, confidence: confidence,
	}
	if s.Freedom > 0 {
		s.SE = math.Sqrt(l.SSResidual / s.Freedom / l.sxx)
		reach := studentQuantile((1+confidence)/2, s.Freedom) * s.SE
		s.Low, s.High = l.Slope-reach, l.Slope+reach
	}
	return s
}

// merged returns the means of each of neighbours; the remainder is left out.
func merged(x []float64, each int) []float64 {
	out := make([]float64, 0, len(x)/each)
	for ; len(x) >= each; x = x[each:] {
		out = append(out, mean(x[:each]))
	}
	return out
}

// Trend tells whether the interval leaves out zero.
func (s Slope) Trend() bool { return s.Low > 0 || s.High < 0 }
