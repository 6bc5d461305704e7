package video

import (
	"math"
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

const (
	// finest is the finest grid; samples that are closer are averaged to it, others
	// interpolated.
	finest = 4e-9
	// coarse is the coarsest grid.
	coarse = 10e-9
)

// overlay averages edges on a grid finer than the samples where these are coarse.
// Each edge lies differently between its samples, so that all of them together see
// more of the edge than one.
func (a *analysis) overlay(edges []pictureEdge) overlay {
	dt := a.record.SampleIntervalSeconds
	o := overlay{interval: finest, reach: afterEdge, edges: len(edges)}
	if dt > o.interval {
		o.interval = dt / math.Ceil(dt/coarse)
	}
	for _, e := range edges {
		o.reach = math.Min(o.reach, e.reach)
		o.amplitude += e.amplitude() / float64(len(edges))
	}
	n := int((beforeEdge + o.reach) / o.interval)
	o.mean = make([]float64, n)
	points := newPoints(n, o.interval)
	for _, e := range edges {
		v, start := a.scaledEdge(e, o.reach)
		for i, x := range resample(v, dt, e.at-beforeEdge-start, o.interval, n) {
			o.mean[i] += x / float64(len(edges))
		}
		if dt <= finest {
			continue
		}
		for i, x := range v {
			points.add(start+float64(i)*dt-e.at+beforeEdge, x)
		}
	}
	o.seen = o.mean
	if dt > finest {
		o.seen = points.through(dt, n)
	}
	return o
}

// scaledEdge returns the samples about an edge, the lower of its levels as 0 and the
// upper as 1, without the steady tones, whose phase is taken from the longer of its two
// flats; start is the instant of the first.
func (a *analysis) scaledEdge(e pictureEdge, reach float64) (v []float64, start float64) {
	dt := a.record.SampleIntervalSeconds
	around := (sincHalf + 1) * dt
	samples, start := a.record.between(e.at-beforeEdge-around, e.at+reach+around)
	v = slices.Clone(samples)
	flat, from := a.record.between(e.at+settle, e.at+math.Min(e.reach, 5*microsecond))
	if e.lead > e.reach {
		flat, from = a.record.between(e.at-math.Min(e.lead, 5*microsecond), e.at-0.3*microsecond)
	}
	for _, t := range a.result.Tones {
		if float64(len(flat))*dt*t.Hertz.Value < 2 {
			continue
		}
		subtract(v, phasor(flat, from, dt, t.Hertz.Value), start, dt, t.Hertz.Value)
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
