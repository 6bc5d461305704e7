package video

import (
	"cmp"
	"math"
	"math/cmplx"
	"slices"

	"soakline/checks/pulse"
)

// overlay is the mean of edges, scaled so that the lower state is 0 and the upper 1,
// beginning beforeEdge seconds before the 50 % instant.
type overlay struct {
	// mean is interpolated between samples where these are coarse: for durations.
	mean []float64
	// seen goes through what the samples of all edges together show, and straight
	// between: for peaks, because interpolation rings about fast edges.
	seen      []float64
	interval  float64 // seconds
	amplitude float64 // mean of the edges', in volts
	reach     float64 // seconds after the edge that every one of them lasts
	edges     int
}

// coarse is the sample interval from which edges are interpolated.
const coarse = 10e-9

// overlay averages edges on a grid finer than the samples where these are coarse.
// Each edge lies differently between its samples, so that all of them together see
// more of the edge than one.
func (a *analysis) overlay(edges []pictureEdge) overlay {
	dt := a.record.SampleIntervalSeconds
	o := overlay{interval: 4e-9, reach: afterEdge, edges: len(edges)}
	if dt > o.interval {
		o.interval = dt / math.Ceil(dt/coarse)
	}
	for _, e := range edges {
		o.reach = math.Min(o.reach, e.reach)
		o.amplitude += e.amplitude() / float64(len(edges))
	}
	n := int((beforeEdge + o.reach) / o.interval)
	o.mean = make([]float64, n)
	var points []point
	for _, e := range edges {
		v, start := a.scaledEdge(e, o.reach)
		for i, x := range resample(v, dt, e.at-beforeEdge-start, o.interval, n) {
			o.mean[i] += x / float64(len(edges))
		}
		if dt <= coarse {
			continue
		}
		for i, x := range v {
			points = append(points, point{start + float64(i)*dt - e.at + beforeEdge, x})
		}
	}
	o.seen = o.mean
	if dt > coarse {
		slices.SortFunc(points, func(p, q point) int { return cmp.Compare(p.at, q.at) })
		o.seen = through(points, dt, o.interval, n)
	}
	return o
}

// scaledEdge returns the samples about an edge, the lower of its levels as 0 and the
// upper as 1, without the steady tones, whose phase is taken from the flat after it;
// start is the instant of the first.
func (a *analysis) scaledEdge(e pictureEdge, reach float64) (v []float64, start float64) {
	dt := a.record.SampleIntervalSeconds
	around := (sincHalf + 1) * dt
	samples, start := a.record.between(e.at-beforeEdge-around, e.at+reach+around)
	v = slices.Clone(samples)
	after, from := a.record.between(e.at+settle, e.at+math.Min(e.reach, 5*microsecond))
	for _, t := range a.result.Tones {
		if float64(len(after))*dt*t.Hertz.Value < 2 {
			continue
		}
		z := phasor(after, from, dt, t.Hertz.Value)
		for i := range v {
			v[i] -= real(z * cmplx.Rect(1, 2*math.Pi*t.Hertz.Value*(start+float64(i)*dt)))
		}
	}
	low, high := e.from, e.to
	if e.edge == pulse.Falling {
		low, high = high, low
	}
	for i := range v {
		v[i] = (v[i] - low) / (high - low)
	}
	return v, start
}

// point is one sample of one edge, at seconds from where the overlay begins.
type point struct{ at, y float64 }

// through returns n values, interval apart, of a curve through points: where a
// sample is near, a parabola fitted to the points about there, nearer ones counting
// more; elsewhere a straight line between such values.
func through(points []point, dt, interval float64, n int) []float64 {
	out := make([]float64, n)
	last := -1
	for i := range out {
		t := float64(i) * interval
		if !nearPoint(points, t, 0.13*dt) {
			continue
		}
		y, ok := 0.0, false
		for _, reach := range []float64{0.7, 1.1, 1.6, 2.2} {
			if y, ok = parabola(points, t, reach*dt); ok {
				break
			}
		}
		if !ok {
			continue
		}
		out[i] = y
		for k := last + 1; k < i; k++ {
			out[k] = y
			if last >= 0 {
				share := float64(k-last) / float64(i-last)
				out[k] = (1-share)*out[last] + share*y
			}
		}
		last = i
	}
	for k := last + 1; k < n && last >= 0; k++ {
		out[k] = out[last]
	}
	return out
}

func search(points []point, t float64) int {
	i, _ := slices.BinarySearchFunc(points, t, func(p point, t float64) int { return cmp.Compare(p.at, t) })
	return i
}

func nearPoint(points []point, t, reach float64) bool {
	i := search(points, t-reach)
	return i < len(points) && points[i].at <= t+reach
}

// parabola fits c0 + c1 x + c2 x² to the points within reach of t by weighted least
// squares and returns c0; ok is false where they do not determine it.
func parabola(points []point, t, reach float64) (y float64, ok bool) {
	var s [5]float64
	var b [3]float64
	count := 0
	for i := search(points, t-reach); i < len(points) && points[i].at <= t+reach; i++ {
		x := (points[i].at - t) / reach
		w := (1 - x*x) * (1 - x*x)
		for k := range s {
			s[k] += w
			if k < 3 {
				b[k] += w * points[i].y
			}
			w *= x
		}
		count++
	}
	// Cramer's rule for the three normal equations.
	d := s[0]*(s[2]*s[4]-s[3]*s[3]) - s[1]*(s[1]*s[4]-s[3]*s[2]) + s[2]*(s[1]*s[3]-s[2]*s[2])
	if count < 3 || d < 1e-4*s[0]*s[0]*s[0] {
		return 0, false
	}
	d0 := b[0]*(s[2]*s[4]-s[3]*s[3]) - s[1]*(b[1]*s[4]-s[3]*b[2]) + s[2]*(b[1]*s[3]-s[2]*b[2])
	return d0 / d, true
}
