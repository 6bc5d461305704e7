package reservoir

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// search is a solution under way.
type search struct {
	problem
	p, next   []float64
	r, trial  []float64
	scales    []float64
	squares   float64
	damping   float64
	jacobian  *mat.Dense
	augmented *mat.Dense
	right     *mat.VecDense
}

func newSearch(q problem, start []float64, damping float64) *search {
	s := &search{
		problem: q, p: append([]float64(nil), start...), next: make([]float64, q.params),
		r: make([]float64, q.points), trial: make([]float64, q.points),
		scales: make([]float64, q.params), damping: damping,
		jacobian:  mat.NewDense(q.points, q.params, nil),
		augmented: mat.NewDense(q.points+q.params, q.params, nil),
		right:     mat.NewVecDense(q.points+q.params, nil),
	}
	s.residuals(s.p, s.r)
	s.squares = sumOfSquares(s.r)
	return s
}

// step takes one step downhill and tells whether another is worth while.
func (s *search) step() bool {
	s.takeSlopes()
	for s.damping < mostDamping {
		predicted, ok := s.propose()
		if ok {
			s.residuals(s.next, s.trial)
			if now := sumOfSquares(s.trial); now < s.squares {
				copy(s.p, s.next)
				copy(s.r, s.trial)
				s.squares = now
				s.damping = max(s.damping/10, 1e-15)
				return predicted > s.enough*now && now > roundingOnly*s.scale
			}
			if predicted <= s.enough*s.squares {
				return false
			}
		}
		s.damping *= 10
	}
	return false
}

func (s *search) takeSlopes() {
	if s.slopes != nil {
		s.slopes(s.p, s.jacobian)
	} else {
		s.differences()
	}
	for j := range s.params {
		s.scales[j] = max(s.scales[j], mat.Norm(s.jacobian.ColView(j), 2))
	}
}

// differences takes the slopes as central differences.
func (s *search) differences() {
	low := make([]float64, s.points)
	p := append([]float64(nil), s.p...)
	for j := range s.params {
		h := 1e-5 * max(math.Abs(s.p[j]), 1e-3)
		p[j] = s.p[j] - h
		s.residuals(p, low)
		p[j] = s.p[j] + h
		s.residuals(p, s.trial)
		for i := range low {
			s.jacobian.Set(i, j, (low[i]-s.trial[i])/(2*h))
		}
		p[j] = s.p[j]
	}
}

// propose puts the damped step into next, and returns by how much the sum of
// squares should fall.
func (s *search) propose() (predicted float64, ok bool) {
	s.augmented.Slice(0, s.points, 0, s.params).(*mat.Dense).Copy(s.jacobian)
	for j := range s.params {
		for i := range s.params {
			s.augmented.Set(s.points+i, j, 0)
		}
		s.augmented.Set(s.points+j, j, math.Sqrt(s.damping)*max(s.scales[j], 1e-300))
	}
	for i, r := range s.r {
		s.right.SetVec(i, r)
	}
	var qr mat.QR
	qr.Factorize(s.augmented)
	var step mat.VecDense
	if err := qr.SolveVecTo(&step, false, s.right); err != nil {
		if _, poor := err.(mat.Condition); !poor {
			return 0, false
		}
	}
	for j := range s.params {
		s.next[j] = s.p[j] + step.AtVec(j)
		if !finite(s.next[j]) {
			return 0, false
		}
	}
	var moved mat.VecDense
	moved.MulVec(s.jacobian, &step)
	left := 0.0
	for i, r := range s.r {
		d := r - moved.AtVec(i)
		left += d * d
	}
	return s.squares - left, true
}

// solution inverts J'J at the end by way of R of J = Q R.
func (s *search) solution() (solution, error) {
	s.takeSlopes()
	var qr mat.QR
	qr.Factorize(s.jacobian)
	var full, inverse mat.Dense
	qr.RTo(&full)
	r := full.Slice(0, s.params, 0, s.params)
	for i := range s.params {
		// A column that has died next to what it was: the figure is not told.
		if math.Abs(r.At(i, i)) <= 1e-12*s.scales[i] {
			return solution{}, fmt.Errorf("%w: the points don't tell its figures apart", errNoFit)
		}
	}
	if err := inverse.Inverse(r); err != nil {
		if _, poor := err.(mat.Condition); !poor || math.IsInf(float64(err.(mat.Condition)), 1) {
			return solution{}, fmt.Errorf("%w: the points don't tell its figures apart", errNoFit)
		}
	}
	var covariance mat.Dense
	covariance.Mul(&inverse, inverse.T())
	sym := mat.NewSymDense(s.params, nil)
	for i := range s.params {
		for j := i; j < s.params; j++ {
			sym.SetSym(i, j, covariance.At(i, j))
		}
	}
	return solution{p: s.p, squares: s.squares, freedom: s.freedom, covariance: sym}, nil
}
