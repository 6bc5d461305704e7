package reservoir

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// errNoFit is the error of a fit that has too few points or does not settle.
var errNoFit = errors.New("the curve can't be fitted")

// problem is a nonlinear least squares problem: find the parameters p for which
// the sum of squared residuals is least.
type problem struct {
	points, params int
	// freedom is the number of points less that of fitted parameters; points that
	// stand for knowledge beforehand do not count.
	freedom int
	// residuals fills r, points long, with observed less calculated.
	residuals func(p, r []float64)
	// slopes fills j, points by params, with the derivatives of the calculated
	// values. Where it is nil they are taken as central differences.
	slopes func(p []float64, j *mat.Dense)
	// scale is the sum of squares of what was observed; a sum of residuals that is
	// rounding against it ends the search.
	scale float64
	// patience is the largest number of steps; 0 for mostSteps.
	patience int
	// enough is the share of the sum of squares below which a further gain is not
	// worth a step; 0 for leastGain.
	enough float64
}

// solution is where a fit ended.
type solution struct {
	p          []float64
	squares    float64
	freedom    int
	covariance *mat.SymDense // without the residual variance
}

// variance is that of one residual.
func (s solution) variance() float64 { return s.squares / float64(s.freedom) }

// u is the standard error of parameter i.
func (s solution) u(i int) float64 { return math.Sqrt(s.variance() * s.covariance.At(i, i)) }

// propagated is the standard error of a function of the parameters with the given
// gradient (JCGM 100:2008, 5.2.2).
func (s solution) propagated(gradient []float64) float64 {
	g := mat.NewVecDense(len(gradient), gradient)
	return math.Sqrt(max(0, s.variance()*mat.Inner(g, s.covariance, g)))
}

const (
	mostSteps    = 2000
	boldDamping  = 1e-3
	mostDamping  = 1e18
	leastGain    = 1e-15 // share of the sum of squares
	roundingOnly = 1e-29 // share of the observed sum of squares
)

// solve finds the least sum of squares from a start by the method of Levenberg and
// Marquardt: steps of least squares on the slopes, damped in proportion to each
// parameter's own slope (Marquardt 1963, Moré 1978; from memory).
func (q problem) solve(start []float64) (solution, error) { return q.solveFrom(start, boldDamping) }

func (q problem) solveFrom(start []float64, damping float64) (solution, error) {
	if q.freedom < 1 {
		return solution{}, fmt.Errorf("%w: %d points for %d figures", errNoFit, q.points, q.params)
	}
	if q.enough == 0 {
		q.enough = leastGain
	}
	s := newSearch(q, start, damping)
	if !finite(s.squares) {
		return solution{}, fmt.Errorf("%w from %v", errNoFit, start)
	}
	if q.patience == 0 {
		q.patience = mostSteps
	}
	for range q.patience {
		if !s.step() {
			break
		}
	}
	return s.solution()
}

// sumOfSquares is +Inf where a residual is not a number.
func sumOfSquares(r []float64) float64 {
	sum := 0.0
	for _, x := range r {
		sum += x * x
	}
	if math.IsNaN(sum) {
		return math.Inf(1)
	}
	return sum
}

// rungs are the dampings that a ladder begins with: bold steps, careful ones, and
// such as hardly leave the steepest way down.
var rungs = []float64{boldDamping, 1, 1e3, 1e6}

// solveFromLadder solves from a start with bold and with ever more careful first
// steps, and keeps the least sum of squares. From a far start a bold step can carry
// an exponential to where it dies before the second point: all slopes but that of
// the level are zero there, and no downhill method returns (NIST StRD BoxBOD from
// its first start).
func (q problem) solveFromLadder(start []float64) (best solution, err error) {
	err = errNoFit
	for _, damping := range rungs {
		s, wrong := q.solveFrom(start, damping)
		if wrong == nil && (err != nil || s.squares < best.squares) {
			best, err = s, nil
		}
	}
	return best, err
}
