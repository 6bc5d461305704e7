package checks

import (
	"fmt"
	"math"

	"soakline/device"
)

// AudioPlan says that a test point is an audio output and what plays there.
type AudioPlan struct {
	// ToneHertz is the test tone's frequency; 0 where it is to be found.
	ToneHertz float64
	// MainsHertz is 50 or 60, which hum is looked for at; 0 where it may be either.
	MainsHertz float64
	// Beside is the test point of the other channel, whose record is taken at once
	// with this one's; empty where the two are not compared.
	Beside TestPointName
	// AlikeAtLeast is the least correlation of the two where both should carry the
	// same, from 0 (not judged) to 1.
	AlikeAtLeast float64
}

func (a *AudioPlan) validate(m *mistakes, path string) {
	if !(a.ToneHertz >= 0) || math.IsInf(a.ToneHertz, 0) {
		m.add(path+"tone_hz", "%g Hz is no tone", a.ToneHertz)
	}
	if a.MainsHertz != 0 && a.MainsHertz != 50 && a.MainsHertz != 60 {
		m.add(path+"mains_hz", "%g Hz: mains is 50 or 60 Hz, or left out", a.MainsHertz)
	}
	if !(a.AlikeAtLeast >= 0 && a.AlikeAtLeast <= 1) {
		m.add(path+"alike_at_least_ratio", "%g is no correlation from 0 to 1", a.AlikeAtLeast)
	}
	if a.Beside == "" && a.AlikeAtLeast != 0 {
		m.add(path+"alike_at_least_ratio", "there is no beside to be alike")
	}
}

// validateKind tells of checks that the point's kind of record does not give.
func (p TestPoint) validateKind(m *mistakes, path string) {
	if p.Audio != nil && p.Reservoir != nil {
		m.add(path+"reservoir", "an audio output is no reservoir capacitor: one of them")
	}
	for j, c := range p.Checks {
		at := fmt.Sprintf("%schecks[%d].", path, j)
		switch {
		case p.Audio == nil && c.Measure.OnlyOfAudio():
			m.add(at+"measure", "%s is a figure of an audio output: give the test point audio", c.Measure)
		case p.Audio != nil && c.Measure.OfVideo() && !c.Measure.OfAudio():
			m.add(at+"measure", "%s is a figure of composite video, and this is an audio output", c.Measure)
		case p.Reservoir != nil && c.Measure.OfVideo():
			m.add(at+"measure", "%s is a figure of composite video, and this is a reservoir capacitor", c.Measure)
		case p.Audio != nil && p.Audio.Beside == "" && c.Measure == device.ChannelBalance:
			m.add(at+"measure", "%s needs the other channel: name its test point with audio.beside", c.Measure)
		}
	}
}

// validateAudio looks at what needs the whole sheet: which test points are beside
// each other.
func (s Sheet) validateAudio(m *mistakes, points map[TestPointName]int) {
	for i, p := range s.TestPoints {
		if p.Audio == nil || p.Audio.Beside == "" {
			continue
		}
		path := fmt.Sprintf("test_points[%d].audio.beside", i)
		switch other, known := points[p.Audio.Beside]; {
		case !known:
			m.add(path, "there is no test point %q", p.Audio.Beside)
		case other == i:
			m.add(path, "a test point is not beside itself")
		case s.TestPoints[other].Audio == nil:
			m.add(path, "test point %q is no audio output", p.Audio.Beside)
		}
	}
}
