package audio

import (
	"math"

	"soakline/checks"
)

// Result is everything that a record says.
type Result struct {
	Channels []ChannelResult
	// Balance is how the first two channels stand to each other.
	Balance Balance
	// SampleHertz and Seconds are the record's rate and length; NoiseBandHertz is
	// how far up noise was measured, 20 kHz or what the rate allows.
	SampleHertz, Seconds, NoiseBandHertz float64
	// Relative tells that figures named in volts are shares of full scale.
	Relative bool
	State    checks.State
	// Findings are in the order of their table. Which of them others explain is
	// said by checks.Shown.
	Findings []checks.Finding
}

// ChannelResult is what one channel says. Levels are rms and without DC unless they
// are named otherwise.
type ChannelResult struct {
	Name     string
	RMSVolts Measured
	// DCVolts is the mean; TotalRMSVolts is rms with it.
	DCVolts, TotalRMSVolts Measured
	// PeakVolts is the sample farthest from 0 V, PeakToPeakVolts highest less lowest.
	PeakVolts, PeakToPeakVolts Measured
	// CrestFactor is the farthest from the mean over rms.
	CrestFactor Measured

	// ToneHertz and ToneVolts are the steady test tone's; not measured where the
	// record is not mainly one tone.
	ToneHertz, ToneVolts Measured
	// THDPercent is the rms of all harmonics up to NoiseBandHertz and THDNPercent of
	// everything but the fundamental, both in percent of the fundamental.
	THDPercent, THDNPercent Measured

	// NoiseVolts is what is left from 20 Hz up without tone and harmonics, hum with
	// it; NoiseAVolts the same weighted A (IEC 61672-1).
	NoiseVolts, NoiseAVolts Measured
	// SNRDecibels is tone over noise, unweighted; SNRADecibels weighted A.
	SNRDecibels, SNRADecibels Measured

	// MainsHertz is the mains frequency that hum was looked for at; Hum are the lines
	// that stand out; HumVolts is their root sum of squares, 0 if there are none.
	MainsHertz float64
	Hum        []HumLine
	HumVolts   Measured

	// Clicks are sudden jumps, Dropouts times without the tone.
	Clicks, Dropouts []Disturbance
	// Clipped counts samples on an end of the converter's range.
	Clipped int
	// StepVolts is one code of the converter; 0 where unknown.
	StepVolts float64

	Spectrum Spectrum

	acSquare float64
	blocks   blocks
}

// HumLine is one line of mains hum.
type HumLine struct {
	// Harmonic is 1 for the mains frequency itself.
	Harmonic     int
	Hertz, Volts Measured
}

// Disturbance is something short: where it begins, how long it lasts, and for a
// click how high it stands out.
type Disturbance struct {
	AtSeconds, Seconds, Volts float64
}

// LevelVolts is the tone's level where there is one, else the whole channel's.
func (c ChannelResult) LevelVolts() Measured {
	if c.ToneVolts.OK() {
		return c.ToneVolts
	}
	return c.RMSVolts
}

func newChannelResult(name string) ChannelResult {
	n := notMeasured()
	return ChannelResult{
		Name: name, RMSVolts: n, DCVolts: n, TotalRMSVolts: n, PeakVolts: n, PeakToPeakVolts: n, CrestFactor: n,
		ToneHertz: n, ToneVolts: n, THDPercent: n, THDNPercent: n,
		NoiseVolts: n, NoiseAVolts: n, SNRDecibels: n, SNRADecibels: n,
		MainsHertz: math.NaN(), HumVolts: n,
	}
}
