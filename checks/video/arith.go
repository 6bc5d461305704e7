package video

import (
	"math"
	"slices"
)

// mean of v; NaN if v is empty.
func mean(v []float64) float64 {
	var sum float64
	for _, x := range v {
		sum += x
	}
	return sum / float64(len(v))
}

// variance of v with divisor n-1; NaN for fewer than two.
func variance(v []float64) float64 {
	if len(v) < 2 {
		return math.NaN()
	}
	m := mean(v)
	var sum float64
	for _, x := range v {
		sum += (x - m) * (x - m)
	}
	return sum / float64(len(v)-1)
}

// median of v, which is not changed; NaN if v is empty.
func median(v []float64) float64 {
	if len(v) == 0 {
		return math.NaN()
	}
	s := slices.Clone(v)
	slices.Sort(s)
	n := len(s)
	return (s[(n-1)/2] + s[n/2]) / 2
}

// straight fits a straight line to v against its index, by least squares: the
// value in the middle, the slope per sample, and the variance of what is left with
// divisor n-2 (NaN for fewer than three). One pass, counted from the first value so
// that little is lost to rounding.
func straight(v []float64) (middle, slope, left float64) {
	if len(v) == 0 {
		return math.NaN(), 0, math.NaN()
	}
	n := float64(len(v))
	zero := v[0]
	x := -(n - 1) / 2
	var sy, xy, yy float64
	for _, y := range v {
		y -= zero
		sy += y
		xy += x * y
		yy += y * y
		x++
	}
	middle = zero + sy/n
	xx := n * (n*n - 1) / 12
	if xx > 0 {
		slope = xy / xx
	}
	if len(v) < 3 {
		return middle, slope, math.NaN()
	}
	return middle, slope, math.Max(0, yy-sy*sy/n-slope*xy) / (n - 2)
}

// spaced picks at most n of count things, evenly spread, as indices.
func spaced(count, n int) []int {
	n = min(n, count)
	out := make([]int, n)
	for i := range out {
		out[i] = i * count / n
	}
	return out
}
