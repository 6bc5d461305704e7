package device

import "slices"

// fromVideo are the measures that a captured line of composite video is reduced to.
var fromVideo = []Measure{
	LumaPeakToPeak, SyncTip, Blanking, Black, White, SyncAmplitude, Picture,
	Burst, BurstFrequency, Overshoot, Undershoot, Tilt, Rise, Fall, Noise, LinePeriod, SyncWidth, Bandwidth,
}

// fromAudio are the measures that a record of an audio output is reduced to;
// ofAudioAlone those that nothing else gives.
var (
	fromAudio    = append([]Measure{ACVoltage, DCVoltage, PeakToPeak, Noise, Frequency}, ofAudioAlone...)
	ofAudioAlone = []Measure{
		CrestFactor, NoiseAWeighted, Hum, HarmonicDistortion, DistortionAndNoise, ChannelBalance, Click, Dropout,
	}
)

// fromRipple are the measures that a record of a reservoir's ripple is reduced to.
var fromRipple = []Measure{Ripple, PeakToPeak, Frequency, ACVoltage, DCVoltage, Capacitance, SeriesResistance}

// OfRipple tells whether m is a figure that a record of a reservoir capacitor's
// ripple can be reduced to.
func (m Measure) OfRipple() bool { return slices.Contains(fromRipple, m) }

// OfAudio tells whether m is a figure that a record of an audio output can be
// reduced to; OnlyOfAudio whether nothing else gives it.
func (m Measure) OfAudio() bool     { return slices.Contains(fromAudio, m) }
func (m Measure) OnlyOfAudio() bool { return slices.Contains(ofAudioAlone, m) }

// OfVideo tells whether m is a figure that only a captured line of composite video
// has.
func (m Measure) OfVideo() bool { return slices.Contains(fromVideo, m) }

// OfCapture tells whether m is a figure that a scope record of anything but audio
// can be reduced to.
func (m Measure) OfCapture() bool { return m == PeakToPeak || m == Ripple || m.OfVideo() }

// Gives tells whether an instrument with this set can give a measure: because it
// can be asked, because it says so unasked, or out of a captured record.
func (c CommandSet) Gives(m Measure) bool {
	if slices.ContainsFunc(c.Asks, func(a Ask) bool { return a.Measure == m }) {
		return true
	}
	if c.Capture != nil && m.OfCapture() {
		return true
	}
	return c.says(m)
}

// GivesOfAudio is Gives for an audio output, whose records are reduced to other
// figures.
func (c CommandSet) GivesOfAudio(m Measure) bool {
	asked := slices.ContainsFunc(c.Asks, func(a Ask) bool { return a.Measure == m })
	return asked || c.CaptureFor(AudioSignal) != nil && m.OfAudio() || c.says(m)
}

// GivesOfRipple is Gives for a reservoir capacitor, likewise.
func (c CommandSet) GivesOfRipple(m Measure) bool {
	asked := slices.ContainsFunc(c.Asks, func(a Ask) bool { return a.Measure == m })
	return asked || c.CaptureFor(RippleSignal) != nil && m.OfRipple() || c.says(m)
}

// says tells whether a talking instrument's lines can mean m.
func (c CommandSet) says(m Measure) bool {
	if c.Listen == nil {
		return false
	}
	for _, said := range c.Listen.Words {
		if said == m {
			return true
		}
	}
	return c.Listen.Measure == m
}
