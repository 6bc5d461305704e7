package simbench

import (
	"math"
	"sort"
)

// frame is everything that repeats: one field without interlace, two with it.
type frame struct {
	segments []segment
	// step[i] is how far segments[i] departs from the one before it, V.
	step []float64
	// first[h] is the segment that stands at the beginning of half line h.
	first         []int
	line, seconds float64
	average       float64 // V
}

// newFrame lays out the half lines of a frame. Half lines are counted from the
// first pulse of the first field; lines begin on even ones, so that the second
// field of an odd number of lines begins in the middle of a line.
func newFrame(c CompositeConfig) *frame {
	m := newLineMaker(c)
	f := &frame{line: m.line}
	fields := [][2]int{{0, 2 * c.Lines}}
	if c.Lines > 500 {
		fields = [][2]int{{0, c.Lines}, {c.Lines, 2 * c.Lines}}
	}
	visible, blank := m.full(true), m.full(false)
	for _, field := range fields {
		for h := field[0]; h < field[1]; h++ {
			half := m.vertical(h-field[0], field[1]-h)
			if half == nil {
				line := visible
				if h-field[0] < 2*m.blankLines-m.after() {
					line = blank
				}
				half = m.half(line, h%2 == 1)
			}
			f.append(half, float64(h)*m.line/2)
		}
	}
	f.seconds = float64(c.Lines) * m.line
	f.index(2 * c.Lines)
	return f
}

// after is how many equalising pulses stand before a field's broad pulses, and
// so at the end of the field before.
func (m *lineMaker) after() int {
	if m.config.VerticalPulses == "full" {
		return m.pulses
	}
	return 0
}

// vertical returns the pulse of a half line that belongs to the vertical
// interval: n half lines after the field's first broad pulse, left before its
// end. It returns nil elsewhere.
func (m *lineMaker) vertical(n, left int) []segment {
	kind := m.config.VerticalPulses
	switch {
	case n < m.pulses && kind == "plain":
		low := m.line / 2
		if n == m.pulses-1 {
			low -= m.serration
		}
		return m.pulse(low)
	case n < m.pulses:
		return m.pulse(m.line/2 - m.serration)
	case n < 2*m.pulses && kind == "full", left <= m.pulses && kind == "full":
		return m.pulse(m.equalising)
	}
	return nil
}

// append adds segments at a time and joins those that change nothing.
func (f *frame) append(segments []segment, at float64) {
	for _, s := range segments {
		s.start += at
		if n := len(f.segments); n > 0 {
			last := f.segments[n-1]
			if last.level == s.level && last.u == s.u && last.v == s.v {
				continue
			}
		}
		f.segments = append(f.segments, s)
	}
}

// index computes steps, average and where each half line begins.
func (f *frame) index(halves int) {
	n := len(f.segments)
	f.step = make([]float64, n)
	for i, s := range f.segments {
		f.step[i] = s.level - f.segments[(i+n-1)%n].level
		f.average += s.level * (f.end(i) - s.start) / f.seconds
	}
	f.first = make([]int, halves)
	for h := range f.first {
		at := float64(h) * f.line / 2
		after := sort.Search(n, func(i int) bool { return f.segments[i].start > at })
		f.first[h] = max(0, after-1)
	}
}

// end is where segment i stops, the frame's end for the last.
func (f *frame) end(i int) float64 {
	if i+1 < len(f.segments) {
		return f.segments[i+1].start
	}
	return f.seconds
}

// settle fills in what a coupling capacitor with the time constant tau has
// followed to, once the picture has stood for long: the mean is carried through
// one frame from 0, which gives the one start value that repeats itself.
func (f *frame) settle(tau float64) {
	share := math.Exp(-f.seconds / tau)
	f.carry(f.carry(0, tau)/(1-share), tau)
}

// carry runs the mean through the frame and returns where it ends.
func (f *frame) carry(mean, tau float64) float64 {
	for i := range f.segments {
		s := &f.segments[i]
		s.mean = mean
		mean = s.level + (mean-s.level)*math.Exp(-(f.end(i)-s.start)/tau)
	}
	return mean
}
