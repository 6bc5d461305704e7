package simbench

import "math"

// segment is a part of the frame with one level: it lasts until the next one
// starts. u and v are the peak volts of the two colour components.
type segment struct {
	start float64 // s, in the frame
	level float64 // V, blanking 0
	u, v  float64
	sync  bool // its leading edge has the sync pulses' shape
	// mean is what a coupling capacitor has followed to at start, V.
	mean float64
}

// lineMaker turns a configuration into the segments of lines and pulses.
type lineMaker struct {
	videoSystem
	config   CompositeConfig
	scale    float64 // volts of a picture signal from 0 to 1
	pictures []segment
}

// newLineMaker scales the picture between black (with its set-up) and white.
func newLineMaker(c CompositeConfig) *lineMaker {
	m := &lineMaker{videoSystem: c.system(), config: c}
	m.scale = m.white - m.setup
	m.pictures = m.active()
	return m
}

// active is the visible part of a line, from the end of blanking.
func (m *lineMaker) active() []segment {
	at, end := m.blankingEnd, m.pictureEnd()
	var out []segment
	for _, p := range m.config.picture(end - at) {
		if at >= end {
			break
		}
		out = append(out, segment{
			start: at, level: m.setup + m.scale*p.y, u: m.scale * p.u, v: m.scale * p.v,
		})
		at += p.seconds
	}
	return append(out, segment{start: end})
}

// full returns one line from its sync edge at 0, with or without picture.
func (m *lineMaker) full(picture bool) []segment {
	line := []segment{
		{start: 0, level: m.tip * m.config.SyncRatio, sync: true},
		{start: m.syncWidth, sync: true},
	}
	if ratio := m.config.BurstRatio; ratio > 0 {
		u, v := m.burstVector()
		line = append(line, segment{start: m.burstStart, u: u * ratio, v: v * ratio},
			segment{start: m.burstEnd()})
	}
	if picture {
		line = append(line, m.pictures...)
	}
	return line
}

// burstVector is the burst's colour components: opposite to u in 525/60, and at
// 135 degrees, turning with v's sign, in 625/50.
func (m *lineMaker) burstVector() (u, v float64) {
	peak := m.burst / 2
	if m.alternating {
		return -peak / math.Sqrt2, peak / math.Sqrt2
	}
	return -peak, 0
}

// pulse returns half a line that is low for the given time.
func (m *lineMaker) pulse(low float64) []segment {
	return []segment{
		{start: 0, level: m.tip * m.config.SyncRatio, sync: true},
		{start: low, sync: true},
	}
}

// half cuts one half of a line out of it; the second half begins at 0 again and
// with what stood before it.
func (m *lineMaker) half(line []segment, second bool) []segment {
	middle := m.line / 2
	var out []segment
	for _, s := range line {
		switch {
		case !second && s.start < middle:
			out = append(out, s)
		case second && s.start <= middle:
			s.start = 0
			s.sync = false
			out = []segment{s}
		case second:
			s.start -= middle
			out = append(out, s)
		}
	}
	return out
}
