package drift

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// ErrTooFew is the error of a calculation that has not enough to go by.
var ErrTooFew = errors.New("too few readings, or all at one time")

// Line is a straight line fitted by ordinary least squares.
type Line struct {
	N         int
	Intercept float64
	Slope     float64
	// InterceptSE and SlopeSE are standard errors for independent readings.
	InterceptSE, SlopeSE float64
	// Freedom is N less the number of fitted values.
	Freedom int
	// SSResidual and SSRegression are sums of squares about the line, and of the
	// line about the mean (about zero, for a line through the origin).
	SSResidual, SSRegression float64

	xMean, yMean, sxx float64
}

// FitLine fits y = Intercept + Slope x (NIST StRD, linear regression, has the
// certified values). It fails with ErrTooFew below three points or without two
// different x; x and y must be equally long and finite.
func FitLine(x, y []float64) (Line, error) {
	if len(x) != len(y) {
		return Line{}, fmt.Errorf("fit a line: %d times and %d values", len(x), len(y))
	}
	n := float64(len(x))
	l := Line{N: len(x), Freedom: len(x) - 2, xMean: mean(x), yMean: mean(y)}
	var sxx, sxy compensated
	for i := range x {
		dx := x[i] - l.xMean
		sxx.addProduct(dx, dx)
		sxy.addProduct(dx, y[i]-l.yMean)
	}
	if l.sxx = sxx.value(); l.Freedom < 1 || !(l.sxx > 0) {
		return Line{}, fmt.Errorf("fit a line to %d points: %w", len(x), ErrTooFew)
	}
	l.Slope = sxy.value() / l.sxx
	l.Intercept = l.yMean - float64(l.Slope*l.xMean)
	l.SSRegression = l.Slope * sxy.value()
	var rest compensated
	for i := range x {
		d := l.residual(x[i], y[i])
		rest.addProduct(d, d)
	}
	l.SSResidual = rest.value()
	s := l.ResidualSD()
	l.SlopeSE = s / math.Sqrt(l.sxx)
	l.InterceptSE = s * math.Sqrt(1/n+l.xMean*l.xMean/l.sxx)
	return l, nil
}

// FitThroughOrigin fits y = Slope x. It fails with ErrTooFew below two points or
// if every x is zero.
func FitThroughOrigin(x, y []float64) (Line, error) {
	if len(x) != len(y) {
		return Line{}, fmt.Errorf("fit a line through the origin: %d times and %d values", len(x), len(y))
	}
	l := Line{N: len(x), Freedom: len(x) - 1}
	var sxx, sxy compensated
	for i := range x {
		sxx.addProduct(x[i], x[i])
		sxy.addProduct(x[i], y[i])
	}
	if l.sxx = sxx.value(); l.Freedom < 1 || !(l.sxx > 0) {
		return Line{}, fmt.Errorf("fit a line through the origin to %d points: %w", len(x), ErrTooFew)
	}
	l.Slope = sxy.value() / l.sxx
	l.SSRegression = l.Slope * sxy.value()
	var rest compensated
	for i := range x {
		d := l.residual(x[i], y[i])
		rest.addProduct(d, d)
	}
	l.SSResidual = rest.value()
	l.SlopeSE = l.ResidualSD() / math.Sqrt(l.sxx)
	return l, nil
}

// residual is taken from the centre of the points, where a line is known best.
func (l Line) residual(x, y float64) float64 {
	return (y - l.yMean) - float64(l.Slope*(x-l.xMean))
}

func (l Line) residuals(x, y []float64) []float64 {
	all := make([]float64, len(x))
	for i := range x {
		all[i] = l.residual(x[i], y[i])
	}
	return all
}

// ResidualSD returns the standard deviation of the points about the line.
func (l Line) ResidualSD() float64 { return math.Sqrt(l.SSResidual / float64(l.Freedom)) }

// RSquared returns the share of the sum of squares that the line explains; NaN
// where there is nothing to explain.
func (l Line) RSquared() float64 { return 1 - l.SSResidual/(l.SSResidual+l.SSRegression) }

// SlopeInterval returns the two-sided interval of the slope at a confidence such
// as 0.95, for independent readings.
func (l Line) SlopeInterval(confidence float64) (low, high float64) {
	reach := studentQuantile((1+confidence)/2, float64(l.Freedom)) * l.SlopeSE
	return l.Slope - reach, l.Slope + reach
}

// mean is taken about the first value, so that equal values give just that value.
func mean(x []float64) float64 {
	if len(x) == 0 {
		return math.NaN()
	}
	var sum compensated
	for _, v := range x {
		sum.add(v - x[0])
	}
	return sum.overPlus(float64(len(x)), x[0])
}

// studentQuantile returns Student's t for a probability and degrees of freedom,
// which need not be whole; NaN at or below 0 degrees.
func studentQuantile(p, freedom float64) float64 {
	if !(freedom > 0) {
		return math.NaN()
	}
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: freedom}.Quantile(p)
}
