package drift

import (
	"errors"
	"fmt"
	"math"
	"time"
)

// Options says what a series is compared with. The zero value is of use: it has no
// limits, no warm-up, and learns its baseline in the first hour (Analyse: in the
// first fifth of the record, an hour at most).
type Options struct {
	// LowLimit and HighLimit are where the time to a limit is counted to, in the
	// values' unit; nil where there is none.
	LowLimit, HighLimit *float64
	// WarmUp is how long after the first reading readings are left out.
	WarmUp time.Duration
	// Baseline is how long after the warm-up the level, spread and autocorrelation
	// are learnt; 0 for the default. It goes on up to four times as long where the
	// readings resemble each other too much to be worth 20 independent ones.
	Baseline time.Duration
	// Reference, if set, is known beforehand and nothing is learnt.
	Reference *Reference
	// SmallestShift is the least change of level worth an alarm, in the values'
	// unit; 0 takes a quarter of a percent of the band between both limits, or the
	// readings' own resolution if that is larger (common practice, no source).
	SmallestShift float64
	// Lambda and Width are of the EWMA chart, Slack (k) and Threshold (h), in long-run
	// standard deviations of a batch mean, of the CUSUM chart; 0 for the defaults.
	Lambda, Width, Slack, Threshold float64
	// Confidence is that of all intervals; 0 for 0.95.
	Confidence float64
}

// Reference is a known state that readings are compared with, one by one.
type Reference struct {
	// Target and Sigma are mean and standard deviation of the readings.
	Target, Sigma float64
	// Autocorrelation is that of neighbouring readings, 0 or above, below 1.
	Autocorrelation float64
}

// Defaults of Options. The charts' were chosen by simulation, so that a day without
// drift rarely alarms (see TestSoaksWithoutDriftStayQuiet).
const (
	DefaultBaseline   = time.Hour
	DefaultLambda     = 0.05
	DefaultWidth      = 4.0
	DefaultSlack      = 0.2
	DefaultThreshold  = 16.0
	DefaultConfidence = 0.95

	smallestShiftOfBand = 0.0025
)

// Validate tells every mistake in the options.
func (o Options) Validate() error {
	var all []error
	wrong := func(bad bool, format string, args ...any) {
		if bad {
			all = append(all, fmt.Errorf(format, args...))
		}
	}
	wrong(o.LowLimit != nil && !usable(*o.LowLimit), "low limit must be a number")
	wrong(o.HighLimit != nil && !usable(*o.HighLimit), "high limit must be a number")
	if o.LowLimit != nil && o.HighLimit != nil {
		wrong(*o.LowLimit >= *o.HighLimit, "low limit %g must be below high limit %g", *o.LowLimit, *o.HighLimit)
	}
	wrong(o.WarmUp < 0, "warm-up %v must not be negative", o.WarmUp)
	wrong(o.Baseline < 0, "baseline %v must not be negative", o.Baseline)
	wrong(!(o.SmallestShift >= 0) || !usable(o.SmallestShift), "smallest shift %g must be 0 or above", o.SmallestShift)
	wrong(!(o.Lambda >= 0 && o.Lambda <= 1), "lambda %g must be above 0 and at most 1", o.Lambda)
	wrong(!(o.Width >= 0 && usable(o.Width)), "width %g must be above 0", o.Width)
	wrong(!(o.Slack >= 0 && usable(o.Slack)), "slack %g must be above 0", o.Slack)
	wrong(!(o.Threshold >= 0 && usable(o.Threshold)), "threshold %g must be above 0", o.Threshold)
	wrong(o.Confidence != 0 && !(o.Confidence >= 0.5 && o.Confidence < 1), "confidence %g must be from 0.5 to below 1", o.Confidence)
	if r := o.Reference; r != nil {
		wrong(!usable(r.Target), "reference target must be a number")
		wrong(!(r.Sigma > 0 && usable(r.Sigma)), "reference sigma %g must be above 0", r.Sigma)
		wrong(!(r.Autocorrelation >= 0 && r.Autocorrelation < 1), "reference autocorrelation %g must be from 0 to below 1", r.Autocorrelation)
	}
	return errors.Join(all...)
}

// withDefaults fills what is left open.
func (o Options) withDefaults() Options {
	set := func(x *float64, to float64) {
		if *x == 0 {
			*x = to
		}
	}
	set(&o.Lambda, DefaultLambda)
	set(&o.Width, DefaultWidth)
	set(&o.Slack, DefaultSlack)
	set(&o.Threshold, DefaultThreshold)
	set(&o.Confidence, DefaultConfidence)
	if o.Baseline == 0 {
		o.Baseline = DefaultBaseline
	}
	if o.LowLimit != nil && o.HighLimit != nil {
		set(&o.SmallestShift, smallestShiftOfBand*(*o.HighLimit-*o.LowLimit))
	}
	return o
}

// usable tells a figure that can be squared and summed; an instrument has no other.
func usable(x float64) bool { return math.Abs(x) <= 1e100 }
