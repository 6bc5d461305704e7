package video

import (
	"errors"
	"fmt"
	"math"

	"soakline/device"
)

// ErrRecord is in every error about a record that cannot be analysed at all.
var ErrRecord = errors.New("record can't be analysed")

// Record is one scope record of one composite output.
type Record struct {
	// Volts are the samples, SampleIntervalSeconds apart. They are only read.
	Volts                 []float64
	SampleIntervalSeconds float64
	// StepVolts is one code of the converter; 0 where unknown, it is then looked
	// for in the samples.
	StepVolts float64
	// LowVolts and HighVolts are the ends of the scope's range; both 0 where
	// unknown.
	LowVolts, HighVolts float64
	// Coupling is "dc", "ac" or empty where unknown.
	Coupling string
}

// The two couplings of a scope's input.
const (
	CouplingDC = "dc"
	CouplingAC = "ac"
)

// FromCapture returns the capture's samples as a record; they are not copied.
func FromCapture(c device.Capture) Record {
	return Record{
		Volts: c.Volts, SampleIntervalSeconds: c.SampleIntervalSeconds, StepVolts: c.StepVolts,
		LowVolts: c.LowVolts, HighVolts: c.HighVolts, Coupling: c.Coupling,
	}
}

// check tells whether there is anything to analyse. Samples that are not finite
// are found by the scan.
func (r Record) check() error {
	dt := r.SampleIntervalSeconds
	switch {
	case len(r.Volts) == 0:
		return fmt.Errorf("%w: it is empty", ErrRecord)
	case len(r.Volts) == 1:
		return fmt.Errorf("%w: it has one sample only", ErrRecord)
	case math.IsNaN(dt) || math.IsInf(dt, 0) || dt <= 0:
		return fmt.Errorf("%w: sample interval is %g s, must be above 0", ErrRecord, dt)
	case !(r.StepVolts >= 0) || math.IsInf(r.StepVolts, 0):
		return fmt.Errorf("%w: step is %g V, must be 0 or above", ErrRecord, r.StepVolts)
	case r.hasRange() && !(r.LowVolts < r.HighVolts):
		return fmt.Errorf("%w: range from %g V to %g V is empty", ErrRecord, r.LowVolts, r.HighVolts)
	case r.Coupling != "" && r.Coupling != CouplingDC && r.Coupling != CouplingAC:
		return fmt.Errorf("%w: coupling %q is neither %q nor %q", ErrRecord, r.Coupling, CouplingDC, CouplingAC)
	}
	return nil
}

func (r Record) hasRange() bool { return r.LowVolts != 0 || r.HighVolts != 0 }

func (r Record) rate() float64 { return 1 / r.SampleIntervalSeconds }

func (r Record) seconds() float64 { return float64(len(r.Volts)) * r.SampleIntervalSeconds }

// between returns the samples from one instant to another, both in seconds from
// the first sample, as far as the record has them, and the instant of the first.
func (r Record) between(from, to float64) (v []float64, start float64) {
	dt := r.SampleIntervalSeconds
	last := float64(len(r.Volts))
	i := int(math.Ceil(math.Min(math.Max(from/dt, 0), last)))
	j := int(math.Floor(math.Min(math.Max(to/dt+1, 0), last)))
	if i >= j {
		return nil, from
	}
	return r.Volts[i:j], float64(i) * dt
}
