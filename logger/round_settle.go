package logger

import (
	"context"
	"math"
	"time"

	"gonum.org/v1/gonum/stat"

	"soakline/checks"
	"soakline/device"
)

// How a figure is read until it has settled (common practice, no source).
const (
	// window is how many readings a figure is the mean of.
	window = 5
	// readAtMost is how many readings are taken while it still moves.
	readAtMost = 30
	// apart is the time from one question to the next.
	apart = 100 * time.Millisecond
)

// settle reads a measure until it has settled and takes the mean of the last
// readings.
func (w *pointWork) settle(ctx context.Context, m device.Measure, accuracy device.Accuracy, next func(context.Context) (device.Reading, error)) {
	var all []device.Reading
	for len(all) < readAtMost {
		r, err := next(ctx)
		if err != nil {
			w.unread(all, err)
			break
		}
		all = append(all, r)
		if len(all) >= window && moved(all[len(all)-window:], accuracy).settled() {
			break
		}
	}
	if len(all) == 0 {
		return
	}
	last := all[max(0, len(all)-window):]
	move := moved(last, accuracy)
	if len(last) == window && !move.settled() {
		w.remark("%s had not settled: it moved by %s in %.1f s", m,
			checks.Difference(move.by, 0, m.Unit()), last[len(last)-1].At.Sub(last[0].At).Seconds())
	}
	w.take(meanOf(last, accuracy, move), len(last))
}

// unread notes that readings stopped coming. Without a single one the instrument
// could not be read; with some, fewer than wished is said and not hidden.
func (w *pointWork) unread(so []device.Reading, err error) {
	if len(so) == 0 {
		w.report.Trouble = err
		return
	}
	w.remark("%d readings only: %v", len(so), err)
}

// movement is how far readings moved from the first to the last of them along a
// line fitted by least squares, and what they may move without it meaning anything.
type movement struct{ by, allowed float64 }

func (m movement) settled() bool { return math.Abs(m.by) <= m.allowed }

// moved fits a line. A movement means nothing up to what the scatter about the
// line explains (Student's t at 95 % with n - 2 degrees of freedom times the
// standard uncertainty of the slope, JCGM 100:2008, H.3.2 and G.3.2) or up to one
// standard uncertainty of the instrument.
func moved(readings []device.Reading, accuracy device.Accuracy) movement {
	n := len(readings)
	if n < 3 {
		return movement{}
	}
	x, y := make([]float64, n), make([]float64, n)
	for i, r := range readings {
		x[i], y[i] = r.At.Sub(readings[0].At).Seconds(), r.Value
	}
	length := x[n-1]
	if length <= 0 {
		return movement{}
	}
	offset, slope := stat.LinearRegression(x, y, nil, false)
	var squares float64
	for i := range x {
		residual := y[i] - offset - slope*x[i]
		squares += residual * residual
	}
	dof := float64(n - 2)
	spread := stat.Variance(x, nil) * float64(n-1)
	ofSlope := checks.Uncertainty{Standard: math.Sqrt(squares / dof / spread), Degrees: dof}
	byInstrument := instrumentUncertainty(accuracy, readings[n-1])
	return movement{by: slope * length, allowed: math.Max(ofSlope.Coverage(0.95)*ofSlope.Standard*length, byInstrument)}
}

// meanOf is the mean of readings with its standard uncertainty: the instrument's,
// which does not average out, the scatter's, and where they have not settled what
// they moved by (a rectangular distribution over it, JCGM 100:2008, 4.3.7).
func meanOf(readings []device.Reading, accuracy device.Accuracy, move movement) device.Reading {
	values := make([]float64, len(readings))
	for i, r := range readings {
		values[i] = r.Value
	}
	mean := readings[len(readings)-1]
	if len(readings) > 1 {
		mean.Value = stat.Mean(values, nil)
	}
	parts := []checks.Uncertainty{{Standard: instrumentUncertainty(accuracy, mean), Degrees: math.Inf(1)}, scatter(values)}
	if !move.settled() {
		parts = append(parts, checks.Rectangular(math.Abs(move.by)/2))
	}
	mean.StandardUncertainty = checks.Combine(parts...).Standard
	if len(readings) > 1 {
		mean.Digits = device.Reading{}.Digits // a mean was not sent by anybody
	}
	return mean
}

// instrumentUncertainty is the accuracy clause's, or where none is given that of
// the last digit alone, which is better than none and is said to be no more.
func instrumentUncertainty(accuracy device.Accuracy, r device.Reading) float64 {
	if u := checks.FromAccuracy(accuracy, r.Value, r.Digits.Resolution()); u > 0 {
		return u
	}
	return checks.Resolution(r.Digits.Resolution()).Standard
}

// scatter is the uncertainty of a mean of few readings (JCGM 100:2008, 4.2.3),
// widened so that CoverageFactor times it is what Student's t asks for with their
// degrees of freedom (G.6.4): a standard uncertainty alone goes into the book.
func scatter(values []float64) checks.Uncertainty {
	if len(values) < 2 {
		return checks.Uncertainty{Degrees: math.Inf(1)}
	}
	a := checks.TypeA(stat.StdDev(values, nil), len(values))
	return checks.Uncertainty{Standard: a.Standard * a.Coverage(0.95) / checks.CoverageFactor, Degrees: math.Inf(1)}
}

// meanOfRecords is the mean of what several records gave for one measure. Each
// brings the uncertainty of its own noise and codes; the scatter between them is
// added, so that noise counts twice rather than not at all.
func meanOfRecords(readings []device.Reading) device.Reading {
	mean := readings[len(readings)-1]
	if len(readings) == 1 {
		return mean
	}
	values, own := make([]float64, len(readings)), 0.0
	for i, r := range readings {
		values[i] = r.Value
		own = math.Max(own, r.StandardUncertainty)
	}
	mean.Value = stat.Mean(values, nil)
	mean.StandardUncertainty = checks.Combine(checks.Uncertainty{Standard: own, Degrees: math.Inf(1)}, scatter(values)).Standard
	return mean
}
