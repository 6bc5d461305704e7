package video

import (
	"math"
	"slices"
)

// stepOf returns one code of the converter that made v: the smallest distance
// between samples if all distances are whole multiples of it; 0 if the samples are
// not quantised as far as can be seen. It looks at some thousand samples only.
func stepOf(v []float64) float64 {
	const looked = 4096
	some := slices.Clone(v[:min(len(v), looked)])
	slices.Sort(some)
	some = slices.Compact(some)
	// A handful of levels without noise says nothing about codes.
	if len(some) < 6 || len(some) > looked/4 && len(some) > len(v)/2 {
		return 0
	}
	reach := some[len(some)-1] - some[0]
	step := math.Inf(1)
	for i := 1; i < len(some); i++ {
		// Codes that went through a decimal file differ in the last digits.
		if d := some[i] - some[i-1]; d > 1e-6*reach {
			step = math.Min(step, d)
		}
	}
	codes := math.Round(reach / step)
	if codes < 1 || codes > 1<<16 {
		return 0
	}
	step = reach / codes
	for _, x := range some {
		n := (x - some[0]) / step
		if math.Abs(n-math.Round(n)) > 0.05 {
			return 0
		}
	}
	return step
}

// quantisationU is the standard uncertainty that a step adds to the mean of a flat
// part with noise sigma. Without noise the mean sits on one code and may be off by
// half a code either way: step/sqrt(12). Gaussian noise dithers: the mean is then
// off by at most step/pi exp(-2 pi^2 (sigma/step)^2), the first term of the series
// for a rounded Gaussian, taken over a random place between two codes.
func quantisationU(step, sigma float64) float64 {
	if step == 0 {
		return 0
	}
	still := step / math.Sqrt(12)
	if !(sigma > 0) {
		return still
	}
	ratio := sigma / step
	return math.Min(still, step/math.Pi/math.Sqrt2*math.Exp(-2*math.Pi*math.Pi*ratio*ratio))
}
