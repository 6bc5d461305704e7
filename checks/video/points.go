package video

// points are samples of many edges, sorted into bins of the grid they are laid on.
type points struct {
	bins     [][]point
	interval float64 // seconds from bin to bin
}

// point is one sample of one edge, at seconds from where the grid begins.
type point struct{ at, y float64 }

func newPoints(n int, interval float64) *points {
	return &points{bins: make([][]point, n), interval: interval}
}

// add takes in a sample; one that is off the grid is of no use.
func (p *points) add(at, y float64) {
	if i := int(at/p.interval + 0.5); at >= 0 && i < len(p.bins) {
		p.bins[i] = append(p.bins[i], point{at, y})
	}
}

// through returns n values on the grid of a curve through the points of samples dt
// apart: where a sample is near, a parabola fitted to the points about there, nearer
// ones counting more; elsewhere a straight line between such values.
func (p *points) through(dt float64, n int) []float64 {
	out := make([]float64, n)
	last := -1
	for i := range out {
		y, ok := p.value(i, dt)
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

// value is the fitted value in bin i, if it has points.
func (p *points) value(i int, dt float64) (y float64, ok bool) {
	if len(p.bins[i]) == 0 {
		return 0, false
	}
	for _, reach := range []float64{0.7, 1.1, 1.6, 2.2} {
		if y, ok = p.parabola(i, reach*dt); ok {
			return y, true
		}
	}
	return 0, false
}

// parabola fits c0 + c1 x + c2 x² to the points within reach of bin i by weighted
// least squares and returns c0; ok is false where they do not determine it.
func (p *points) parabola(i int, reach float64) (y float64, ok bool) {
	var s [5]float64
	var b [3]float64
	wide := int(reach/p.interval) + 1
	middle := float64(i) * p.interval
	for _, bin := range p.bins[max(0, i-wide):min(len(p.bins), i+wide+1)] {
		for _, q := range bin {
			x := (q.at - middle) / reach
			if x < -1 || x > 1 {
				continue
			}
			w := (1 - x*x) * (1 - x*x)
			wx, wxx := w*x, w*x*x
			s[0], s[1], s[2] = s[0]+w, s[1]+wx, s[2]+wxx
			s[3], s[4] = s[3]+wxx*x, s[4]+wxx*x*x
			b[0], b[1], b[2] = b[0]+w*q.y, b[1]+wx*q.y, b[2]+wxx*q.y
		}
	}
	// Cramer's rule for the three normal equations.
	d := s[0]*(s[2]*s[4]-s[3]*s[3]) - s[1]*(s[1]*s[4]-s[3]*s[2]) + s[2]*(s[1]*s[3]-s[2]*s[2])
	if !(d > 1e-4*s[0]*s[0]*s[0]) {
		return 0, false
	}
	d0 := b[0]*(s[2]*s[4]-s[3]*s[3]) - s[1]*(b[1]*s[4]-s[3]*b[2]) + s[2]*(b[1]*s[3]-s[2]*b[2])
	return d0 / d, true
}
