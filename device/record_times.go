package device

import (
	"fmt"
	"math"
)

// recordTimes follows the times of a record without keeping them. Even spacing
// means that there is one interval with which every time, counted from the first,
// is where it was printed but for rounding; each time narrows the intervals that
// are left.
type recordTimes struct {
	n                   int
	first, last         float64
	firstStep           float64
	narrowest, broadest float64 // bounds of the interval
}

// Slack that a time may have besides the rounding of its last printed digit, and
// the most that both together may be, in shares of the interval. A printed step
// as coarse as the interval is borne; a sample left out is found.
const (
	timeSlack     = 0.1
	mostTimeError = 0.75
)

// add takes the next time in; step is what its last printed digit is worth.
func (t *recordTimes) add(at, step float64) error {
	t.n++
	if t.n == 1 {
		t.first, t.last, t.firstStep = at, at, step
		t.narrowest, t.broadest = 0, math.Inf(1)
		return nil
	}
	switch {
	case at == t.last:
		return fmt.Errorf("the time %v comes twice in a row: if it is printed too coarsely, give the sample rate", at)
	case at < t.last:
		return fmt.Errorf("the time goes back from %v to %v", t.last, at)
	}
	count, span := float64(t.n-1), at-t.first
	if math.IsInf(span, 0) {
		return fmt.Errorf("the time %v is too far from the first one, %v", at, t.first)
	}
	mean := span / count
	bearable := math.Min((t.firstStep+step)/2+timeSlack*mean, mostTimeError*mean)
	t.narrowest = math.Max(t.narrowest, (span-bearable)/count)
	t.broadest = math.Min(t.broadest, (span+bearable)/count)
	if t.narrowest > t.broadest {
		// The second time never comes here: it alone sets both bounds.
		return fmt.Errorf("the time %v breaks the even spacing of about %.4g: samples are missing or were taken unevenly",
			at, (t.last-t.first)/(count-1))
	}
	t.last = at
	return nil
}

// interval is the mean spacing from the first to the last time.
func (t *recordTimes) interval() float64 {
	return (t.last - t.first) / float64(t.n-1)
}
