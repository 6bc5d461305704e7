package audio

import (
	"errors"
	"fmt"
	"math"

	"soakline/device"
)

// ErrRecord is in every error about a record that cannot be analysed at all.
var ErrRecord = errors.New("record can't be analysed")

// Record is one record of an audio output: its channels, taken at once.
type Record struct {
	Channels              []Channel
	SampleIntervalSeconds float64
	// Relative tells that the samples are shares of full scale, not volts.
	Relative bool
}

// Channel is one channel's samples; they are only read.
type Channel struct {
	Name  string
	Volts []float64
	// StepVolts is one code of the converter; 0 where unknown.
	StepVolts float64
	// LowVolts and HighVolts are the ends of the range; both 0 where unknown.
	LowVolts, HighVolts float64
}

// FromRecording returns a recording's channels as a record; samples are not copied.
// Of two channels the first is named left, as in every WAV file.
func FromRecording(r device.Recording) Record {
	record := Record{Relative: r.FullScaleVolts == 0}
	for i, c := range r.Channels {
		record.SampleIntervalSeconds = c.SampleIntervalSeconds
		record.Channels = append(record.Channels, Channel{
			Name: channelName(i, len(r.Channels)), Volts: c.Volts,
			StepVolts: c.StepVolts, LowVolts: c.LowVolts, HighVolts: c.HighVolts,
		})
	}
	return record
}

func channelName(i, of int) string {
	switch {
	case of == 1:
		return "channel"
	case of == 2:
		return []string{"left", "right"}[i]
	default:
		return fmt.Sprintf("channel %d", i+1)
	}
}

// check tells whether there is anything to analyse.
func (r Record) check() error {
	dt := r.SampleIntervalSeconds
	switch {
	case len(r.Channels) == 0:
		return fmt.Errorf("%w: it has no channel", ErrRecord)
	case !(dt > 0) || math.IsInf(dt, 0):
		return fmt.Errorf("%w: sample interval is %g s, must be above 0", ErrRecord, dt)
	}
	for _, c := range r.Channels {
		if err := c.check(len(r.Channels[0].Volts)); err != nil {
			return err
		}
	}
	return nil
}

// largest is the most that a sample may be: the squares of more than that, summed,
// might run over.
const largest = 1e100

func (c Channel) check(samples int) error {
	switch {
	case len(c.Volts) < 2:
		return fmt.Errorf("%w: %s has %d samples, wanted 2 or more", ErrRecord, c.Name, len(c.Volts))
	case len(c.Volts) != samples:
		return fmt.Errorf("%w: %s has %d samples, the first channel %d", ErrRecord, c.Name, len(c.Volts), samples)
	case !(c.StepVolts >= 0) || math.IsInf(c.StepVolts, 0):
		return fmt.Errorf("%w: step is %g V, must be 0 or above", ErrRecord, c.StepVolts)
	case c.hasRange() && !(c.LowVolts < c.HighVolts):
		return fmt.Errorf("%w: range from %g V to %g V is empty", ErrRecord, c.LowVolts, c.HighVolts)
	}
	for i, v := range c.Volts {
		if !(math.Abs(v) <= largest) {
			return fmt.Errorf("%w: sample %d of %s is %g", ErrRecord, i+1, c.Name, v)
		}
	}
	return nil
}

func (c Channel) hasRange() bool { return c.LowVolts != 0 || c.HighVolts != 0 }
