package pulse

import (
	"errors"
	"fmt"
	"math"
)

// What can be wrong with a waveform. Nothing is measured then, and no figure is 0
// instead.
var (
	// ErrNoTransition: all samples lie in one state, or none crosses from one
	// state into the other.
	ErrNoTransition = errors.New("no transition")
	// ErrTooShort: too few samples for what was asked.
	ErrTooShort = errors.New("too few samples")
	// ErrNotFinite: a sample, level or interval is NaN or infinite.
	ErrNotFinite = errors.New("not a finite number")
	// ErrLevels: the two state levels are equal or the wrong way round.
	ErrLevels = errors.New("state levels are not one below the other")
	// ErrInterval: the sample interval is not above 0.
	ErrInterval = errors.New("sample interval is not above 0")
	// ErrNotSettled: the waveform is outside the band where the window ends.
	ErrNotSettled = errors.New("does not settle within the record")
)

// checkRecord tells whether v and dt can be measured at all.
func checkRecord(v []float64, dt float64) error {
	if len(v) < 2 {
		return fmt.Errorf("%w: %d, need at least 2", ErrTooShort, len(v))
	}
	if !finite(dt) || dt <= 0 {
		return fmt.Errorf("%w: %g s", ErrInterval, dt)
	}
	return checkFinite(v)
}

func checkFinite(v []float64) error {
	for i, x := range v {
		if !finite(x) {
			return fmt.Errorf("sample %d is %g: %w", i, x, ErrNotFinite)
		}
	}
	return nil
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }
