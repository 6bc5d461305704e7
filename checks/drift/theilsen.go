package drift

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// TheilSen is the median of the slopes between all pairs, which a few wild
// readings can't move. Slopes are per second.
type TheilSen struct {
	PerSecond, Low, High float64
	// Intercept is median(v) - PerSecond median(t).
	Intercept float64
}

// TheilSenOf returns the slope of v over t (seconds) with Sen's interval at a
// confidence such as 0.95: the slopes of rank (N - C)/2 and (N + C)/2 + 1 with
// linear interpolation, C = z sqrt(var S) of the Mann-Kendall test (US EPA
// 530/R-09-007, chapter 17). The interval is for independent readings. Pairs of one
// time are left out; it fails with ErrTooFew if none is left. It takes time and
// memory for n (n - 1)/2 slopes.
func TheilSenOf(t, v []float64, confidence float64) (TheilSen, error) {
	if len(t) != len(v) {
		return TheilSen{}, fmt.Errorf("median slope: %d times and %d values", len(t), len(v))
	}
	slopes := pairSlopes(t, v)
	if len(slopes) == 0 {
		return TheilSen{}, fmt.Errorf("median slope of %d points: %w", len(t), ErrTooFew)
	}
	slices.Sort(slopes)
	n := float64(len(slopes))
	z := distuv.UnitNormal.Quantile((1 + confidence) / 2)
	c := z * math.Sqrt(MannKendallOf(v).Variance)
	s := TheilSen{
		PerSecond: atRank(slopes, (n+1)/2),
		Low:       atRank(slopes, (n-c)/2), High: atRank(slopes, (n+c)/2+1),
	}
	s.Intercept = median(v) - float64(s.PerSecond*median(t))
	return s, nil
}

func pairSlopes(t, v []float64) []float64 {
	slopes := make([]float64, 0, len(t)*(len(t)-1)/2)
	for i := range t {
		for j := i + 1; j < len(t); j++ {
			if t[j] != t[i] {
				slopes = append(slopes, (v[j]-v[i])/(t[j]-t[i]))
			}
		}
	}
	return slopes
}

// atRank returns the value of a rank, counted from 1, in sorted values; between
// ranks it interpolates, beyond the ends it stays at them.
func atRank(sorted []float64, rank float64) float64 {
	rank = min(max(rank, 1), float64(len(sorted)))
	below := int(rank)
	if below == len(sorted) {
		return sorted[below-1]
	}
	part := rank - float64(below)
	return float64(sorted[below-1]*(1-part)) + float64(sorted[below]*part)
}

func median(x []float64) float64 {
	sorted := slices.Clone(x)
	slices.Sort(sorted)
	return atRank(sorted, float64(len(sorted)+1)/2)
}
