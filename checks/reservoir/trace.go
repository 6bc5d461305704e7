package reservoir

import (
	"math"
)

// trace is a record of readings, cleaned: what is not a number or does not go
// forward in time is left out and counted. A negative supply is turned over.
type trace struct {
	t, v    []float64
	leftOut int
	sign    float64
	noise   float64
	// begin is the last reading before the fall, lowest the last of the fall;
	// behind it, if the voltage comes back, is the rebound.
	begin, lowest int
	rebound       Estimate
}

func newTrace(seconds, volts []float64) trace {
	r := trace{sign: 1, rebound: unknown()}
	for i, t := range seconds {
		v := volts[i]
		if !finite(t) || !finite(v) || math.Abs(v) > 1e9 || len(r.t) > 0 && t <= r.t[len(r.t)-1] {
			r.leftOut++
			continue
		}
		r.t, r.v = append(r.t, t), append(r.v, v)
	}
	r.turnOver()
	r.noise = noiseOf(r.v)
	return r
}

func (r *trace) turnOver() {
	low, high := 0.0, 0.0
	for _, v := range r.v {
		low, high = min(low, v), max(high, v)
	}
	if -low <= high {
		return
	}
	r.sign = -1
	for i := range r.v {
		r.v[i] = -r.v[i]
	}
}

// findFall finds where the fall begins and ends, and whether the voltage comes
// back. It tells whether there is a fall at all.
func (r *trace) findFall() bool {
	smooth := runningMean(r.v, max(1, len(r.v)/200))
	top, bottom := 0, 0
	for i, v := range smooth {
		if v > smooth[top] {
			top = i
		}
	}
	bottom = top
	for i := top; i < len(smooth); i++ {
		if smooth[i] < smooth[bottom] {
			bottom = i
		}
	}
	drop := smooth[top] - smooth[bottom]
	if !(drop > max(6*r.noise, 0.01*smooth[top])) {
		return false
	}
	r.begin = top
	for i := top; i < bottom; i++ {
		if r.v[i] >= smooth[top]-max(4*r.noise, 0.003*drop) {
			r.begin = i
		}
	}
	r.lowest = len(r.v) - 1
	r.comesBack(smooth, bottom)
	return true
}

// comesBack looks for a rise after the lowest point that noise does not explain.
func (r *trace) comesBack(smooth []float64, bottom int) {
	back := bottom
	for i := bottom; i < len(smooth); i++ {
		if smooth[i] > smooth[back] {
			back = i
		}
	}
	rise := smooth[back] - smooth[bottom]
	if rise > max(6*r.noise, 0.002*r.v[r.begin]) && back-bottom >= 2 {
		r.lowest = bottom
		r.rebound = Estimate{Value: rise, U: math.Sqrt2 * r.noise}
		return
	}
	r.rebound = Estimate{Value: 0, U: math.Sqrt2 * r.noise}
}

// runningMean is the mean over width readings around each.
func runningMean(v []float64, width int) []float64 {
	if width <= 1 {
		return v
	}
	sums := make([]float64, len(v)+1)
	for i, x := range v {
		sums[i+1] = sums[i] + x
	}
	out := make([]float64, len(v))
	for i := range v {
		from, to := max(0, i-width/2), min(len(v), i+width/2+1)
		out[i] = (sums[to] - sums[from]) / float64(to-from)
	}
	return out
}
