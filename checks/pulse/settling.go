package pulse

import (
	"fmt"
	"math"
)

// SettlingSeconds returns the time from the 50 % instant of t to the last entry
// into the band of ± percent of the amplitude about the state that follows
// (settling duration, IEEE 181). Looked at are the samples up to within seconds
// after the 50 % instant, or to the end of the record if within is 0.
//
// It fails with ErrNotSettled if the last sample looked at is outside the band,
// and as Transitions does.
func SettlingSeconds(v []float64, dt float64, l Levels, t Transition, percent, within float64) (float64, error) {
	if err := checkRecord(v, dt); err != nil {
		return math.NaN(), fmt.Errorf("settling: %w", err)
	}
	if t.Before < 0 || t.After >= len(v) {
		return math.NaN(), fmt.Errorf("settling: %w: the transition is not in the record", ErrTooShort)
	}
	end := len(v) - 1
	if within > 0 {
		end = int(math.Min(float64(end), math.Floor((t.T50+within)/dt)))
	}
	level := l.High
	if t.Edge == Falling {
		level = l.Low
	}
	band := percent / 100 * l.Amplitude()
	i := end
	for i > t.Before && math.Abs(v[i]-level) <= band {
		i--
	}
	if i >= end {
		return math.NaN(), fmt.Errorf("settling to ±%g %%: %w", percent, ErrNotSettled)
	}
	edge := level + math.Copysign(band, v[i]-level)
	return dt*crossing(v, i, edge) - t.T50, nil
}
