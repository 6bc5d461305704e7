package reservoir

import (
	"math"
	"slices"
)

// thin averages neighbours so that at most most points remain. A mean over a
// hundredth of a time constant is off by four millionths of itself.
func thin(t, v []float64, most int) (thinT, thinV []float64) {
	each := (len(t) + most - 1) / most
	if each <= 1 {
		return t, v
	}
	for i := 0; i < len(t); i += each {
		end := min(i+each, len(t))
		thinT = append(thinT, meanOf(t[i:end]))
		thinV = append(thinV, meanOf(v[i:end]))
	}
	return thinT, thinV
}

func meanOf(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v - x[0]
	}
	return x[0] + sum/float64(len(x))
}

func medianOf(x []float64) float64 {
	if len(x) == 0 {
		return math.NaN()
	}
	s := slices.Clone(x)
	slices.Sort(s)
	return (s[(len(s)-1)/2] + s[len(s)/2]) / 2
}

// noiseOf estimates the standard deviation of one reading from the third
// differences, which a slow fall hardly enters: their median size is 0.6745 sqrt(20)
// standard deviations of independent normal noise. It is at least the millionth of
// the largest reading, which no fit is believed to beat.
func noiseOf(v []float64) float64 {
	least := 0.0
	for _, x := range v {
		least = max(least, math.Abs(x)*1e-6)
	}
	if len(v) < 6 {
		return least
	}
	third := make([]float64, 0, len(v)-3)
	for i := 3; i < len(v); i++ {
		third = append(third, math.Abs(v[i]-3*v[i-1]+3*v[i-2]-v[i-3]))
	}
	return max(least, medianOf(third)/(0.6745*math.Sqrt(20)))
}
