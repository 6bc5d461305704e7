package main

import "math"

// tally sums up figures as they come, without keeping them (the method of
// Welford, Technometrics 4 (1962) 419).
type tally struct {
	n             int
	mean, squares float64
}

func (t *tally) add(x float64) {
	t.n++
	d := x - t.mean
	t.mean += d / float64(t.n)
	t.squares += d * (x - t.mean)
}

// average is NaN of none.
func (t *tally) average() float64 {
	if t.n == 0 {
		return math.NaN()
	}
	return t.mean
}

// sd is the sample standard deviation (n - 1); NaN of fewer than two.
func (t *tally) sd() float64 {
	if t.n < 2 {
		return math.NaN()
	}
	return math.Sqrt(t.squares / float64(t.n-1))
}
