package pulse

import "fmt"

// Edge is the direction of a transition.
type Edge string

// The two directions.
const (
	Rising  Edge = "rising"
	Falling Edge = "falling"
)

// Transition is one change from one state to the other. Instants are in seconds
// from the first sample, by linear interpolation between samples; on a falling
// edge T90 comes first.
type Transition struct {
	Edge          Edge
	T10, T50, T90 float64
	// DurationSeconds is the time between the 10 % and the 90 % instant
	// (transition duration, IEEE 181, 5.3.4).
	DurationSeconds float64
	// Before is the last sample at or beyond the first reference level, After the
	// first sample at or beyond the other.
	Before, After int
}

// Transitions finds all transitions of v between the states of l, dt seconds
// between samples. A crossing of 50 % that does not come from beyond 10 % and
// reach 90 % (or the other way round) is none. An edge is known no better than
// to about one sample interval.
//
// It fails with ErrNoTransition, ErrTooShort, ErrInterval, ErrLevels and
// ErrNotFinite.
func Transitions(v []float64, dt float64, l Levels) ([]Transition, error) {
	if err := checkRecord(v, dt); err != nil {
		return nil, fmt.Errorf("transitions: %w", err)
	}
	if _, err := GivenLevels(l.Low, l.High); err != nil {
		return nil, fmt.Errorf("transitions: %w", err)
	}
	var all []Transition
	y10, y90 := l.Reference(10), l.Reference(90)
	lastLow, lastHigh := -1, -1
	for i, x := range v {
		switch {
		case x <= y10:
			if lastHigh > lastLow {
				all = append(all, newTransition(v, dt, l, lastHigh, i, Falling))
			}
			lastLow = i
		case x >= y90:
			if lastLow > lastHigh {
				all = append(all, newTransition(v, dt, l, lastLow, i, Rising))
			}
			lastHigh = i
		}
	}
	if len(all) == 0 {
		return nil, fmt.Errorf("transitions: %w between %g and %g", ErrNoTransition, l.Low, l.High)
	}
	return all, nil
}

func newTransition(v []float64, dt float64, l Levels, before, after int, edge Edge) Transition {
	t := Transition{Edge: edge, Before: before, After: after}
	first, last := l.Reference(10), l.Reference(90)
	if edge == Falling {
		first, last = last, first
	}
	begin := dt * crossing(v, before, first)
	t.T50 = dt * firstCrossing(v, before, after, l.Reference(50))
	end := dt * crossing(v, after-1, last)
	t.T10, t.T90 = begin, end
	if edge == Falling {
		t.T10, t.T90 = end, begin
	}
	t.DurationSeconds = end - begin
	return t
}

// firstCrossing returns where v first passes level between samples from and to,
// in samples.
func firstCrossing(v []float64, from, to int, level float64) float64 {
	for i := from; i < to; i++ {
		if (v[i]-level)*(v[i+1]-level) <= 0 && v[i] != v[i+1] {
			return crossing(v, i, level)
		}
	}
	return float64(from)
}

// crossing returns where the straight line from sample i to the next passes
// level, in samples.
func crossing(v []float64, i int, level float64) float64 {
	if v[i] == v[i+1] {
		return float64(i)
	}
	return float64(i) + (level-v[i])/(v[i+1]-v[i])
}
