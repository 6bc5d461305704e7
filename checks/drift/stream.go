package drift

import "math"

// Stream holds mean, standard deviation and lag-1 autocorrelation of readings
// without the readings: about 100 bytes, whatever their number. The zero value is
// ready. Sums are taken about the first reading and compensated, so that a small
// spread on a large value keeps its digits (NIST StRD NumAcc4).
type Stream struct {
	n           int
	first, last float64
	sum         compensated // of x - first
	squares     compensated // of (x - first)^2
	steps       compensated // of (x - previous x)^2
}

// Add takes one finite reading.
func (s *Stream) Add(x float64) {
	if s.n == 0 {
		s.first, s.last = x, x
	}
	s.n++
	d, step := x-s.first, x-s.last
	s.sum.add(d)
	s.squares.addProduct(d, d)
	s.steps.addProduct(step, step)
	s.last = x
}

// N returns the number of readings.
func (s *Stream) N() int { return s.n }

// Mean returns the arithmetic mean; NaN without a reading.
func (s *Stream) Mean() float64 {
	if s.n == 0 {
		return math.NaN()
	}
	return s.sum.overPlus(float64(s.n), s.first)
}

// deviations returns the sum of squares about the mean; never negative.
func (s *Stream) deviations() float64 {
	return max(0, s.squares.minusSquareOver(s.sum, float64(s.n)))
}

// SD returns the standard deviation (divisor n - 1); NaN below two readings.
func (s *Stream) SD() float64 {
	if s.n < 2 {
		return math.NaN()
	}
	return math.Sqrt(s.deviations() / float64(s.n-1))
}

// StepVariance returns the mean square of the steps from reading to reading: twice
// the variance times 1 - r for autocorrelation r (von Neumann's ratio; from
// memory). A slow drift hardly enters it. NaN below two readings.
func (s *Stream) StepVariance() float64 {
	if s.n < 2 {
		return math.NaN()
	}
	return s.steps.value() / float64(s.n-1)
}

// Lag1 returns the autocorrelation of neighbours, sum of (x[i]-m)(x[i+1]-m) over
// sum of (x[i]-m)^2; NaN below two readings or without spread.
func (s *Stream) Lag1() float64 {
	all := s.deviations()
	if s.n < 2 || all == 0 {
		return math.NaN()
	}
	// The ends enter the squares of the steps once, all others twice.
	mean := s.sum.value() / float64(s.n)
	first, last := -mean, s.last-s.first-mean
	ends := float64(first*first) + float64(last*last)
	return (2*all - ends - s.steps.value()) / (2 * all)
}
