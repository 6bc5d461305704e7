package checks

import "math"

// stream holds the mean, the spread and the extremes of figures without the
// figures (Welford's recurrence; Technometrics 4, 1962, from memory).
type stream struct {
	n         int
	mean, m2  float64
	low, high float64
}

// add takes one finite figure. The conversion keeps the compiler from fusing
// multiply and add, which would make results differ between machines.
func (s *stream) add(x float64) {
	s.n++
	if s.n == 1 {
		s.mean, s.low, s.high = x, x, x
		return
	}
	delta := x - s.mean
	s.mean += delta / float64(s.n)
	s.m2 += float64(delta * (x - s.mean))
	s.low, s.high = min(s.low, x), max(s.high, x)
}

// spread returns the standard deviation (divisor n - 1); NaN below two figures.
func (s *stream) spread() float64 {
	if s.n < 2 {
		return math.NaN()
	}
	return math.Sqrt(s.m2 / float64(s.n-1))
}

// summary returns mean, low and high; all NaN without a figure.
func (s *stream) summary() (mean, low, high float64) {
	if s.n == 0 {
		return math.NaN(), math.NaN(), math.NaN()
	}
	return s.mean, s.low, s.high
}
