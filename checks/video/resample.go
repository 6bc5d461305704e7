package video

import "math"

// resample returns n values of v, whose samples are dt seconds apart, from an
// instant on, interval seconds apart. Samples further apart than that are
// interpolated by a windowed sinc; closer ones are averaged.
func resample(v []float64, dt, from, interval float64, n int) []float64 {
	out := make([]float64, n)
	if dt < interval*0.999 {
		half := interval / 2
		for i := range out {
			t := from + float64(i)*interval
			j := min(max(0, int((t-half)/dt)), len(v)-1)
			k := min(max(j+1, int((t+half)/dt)), len(v))
			out[i] = mean(v[j:k])
		}
		return out
	}
	// The same places between samples come back every steps points.
	steps := max(1, int(math.Round(dt/interval)))
	for phase := range min(steps, n) {
		position := (from + float64(phase)*interval) / dt
		first := int(math.Floor(position)) - sincHalf + 1
		weights := sincWeights(position - math.Floor(position))
		for i := phase; i < n; i += steps {
			var sum float64
			for k, w := range weights {
				sum += w * v[min(max(0, first+k), len(v)-1)]
			}
			out[i] = sum
			first++
		}
	}
	return out
}

// sincHalf is how many samples on either side the interpolation uses.
const sincHalf = 7

// sincWeights are those of the samples around a place that lies fraction of an
// interval after the middle left one: a sinc under a raised cosine, adding up to 1.
func sincWeights(fraction float64) [2 * sincHalf]float64 {
	var w [2 * sincHalf]float64
	var sum float64
	for k := range w {
		x := float64(k-sincHalf+1) - fraction
		w[k] = 0.5 + 0.5*math.Cos(math.Pi*x/(sincHalf+0.5))
		if x != 0 {
			w[k] *= math.Sin(math.Pi*x) / (math.Pi * x)
		}
		sum += w[k]
	}
	for k := range w {
		w[k] /= sum
	}
	return w
}
