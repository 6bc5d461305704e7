package device

import "time"

// Capture is one scope record of one channel.
type Capture struct {
	// Volts are the samples, SampleIntervalSeconds apart. The interval is a float
	// because a time.Duration would round 0.7 ns to nothing.
	Volts                 []float64
	SampleIntervalSeconds float64
	// StepVolts is one code of the converter; 0 where unknown.
	StepVolts float64
	// LowVolts and HighVolts are the ends of the scope's range; both 0 where
	// unknown. A sample on an end may be clipped.
	LowVolts, HighVolts float64
	// Coupling is "dc", "ac" or empty where unknown.
	Coupling string
	// At is when the last byte arrived.
	At time.Time
	// DoneAt is when the scope said that the record was complete, which is nearer to
	// the samples than At; the zero time where it was not asked. It is not kept.
	DoneAt time.Time
	// Beside, if not nil, is the record of another channel taken at once with this
	// one. It is not kept.
	Beside *Capture
}

// Signal is what a record is taken of, where that asks for a record of its own.
type Signal string

// The signals that ask for a record of their own: an audio output's, and the ripple
// of a reservoir capacitor.
const (
	AudioSignal  Signal = "audio"
	RippleSignal Signal = "ripple"
)

// Shot says which record is wanted.
type Shot struct {
	Channel string
	Signal  Signal
	// Beside, if not empty, is another channel whose record of the same acquisition
	// is wanted as well.
	Beside string
}

// CaptureFor returns how a record of a signal is taken; nil where the instrument
// gives none.
func (c CommandSet) CaptureFor(signal Signal) *CaptureAsk {
	switch {
	case signal == AudioSignal && c.AudioCapture != nil:
		return c.AudioCapture
	case signal == RippleSignal && c.RippleCapture != nil:
		return c.RippleCapture
	}
	return c.Capture
}
