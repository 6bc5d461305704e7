package drift

import (
	"fmt"
	"time"
)

// Analyse judges a saved record at once: values at times in seconds, on any zero.
// What is not a number or goes back in time is counted in the result and left out.
// It finds what a Monitor with the same options would have found. It fails if the
// options are wrong or the lengths differ; a record that is too short for a figure
// leaves that figure NaN.
func Analyse(seconds, values []float64, o Options) (Result, error) {
	if len(seconds) != len(values) {
		return Result{}, fmt.Errorf("analyse drift: %d times for %d values", len(seconds), len(values))
	}
	if err := o.Validate(); err != nil {
		return Result{}, fmt.Errorf("analyse drift: %w", err)
	}
	if o.Baseline == 0 {
		o.Baseline = baselineFor(seconds, o.WarmUp)
	}
	s := newSeries(o)
	for i, t := range seconds {
		s.add(t, values[i])
	}
	return s.result(), nil
}

// baselineFor is a fifth of the record after the warm-up, at most an hour.
func baselineFor(seconds []float64, warmUp time.Duration) time.Duration {
	first, last, seen := 0.0, 0.0, false
	for _, t := range seconds {
		if !usable(t) {
			continue
		}
		if !seen {
			first, last, seen = t, t, true
		}
		last = max(last, t)
	}
	span := (last - first - warmUp.Seconds()) / 5
	if span >= DefaultBaseline.Seconds() {
		return DefaultBaseline
	}
	return max(1, time.Duration(max(span, 0)*float64(time.Second)))
}
