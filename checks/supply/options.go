package supply

import (
	"errors"
	"fmt"
	"math"
)

// ErrRecord is in every error about a record that can't be analysed at all.
var ErrRecord = errors.New("record can't be analysed")

// Options say what is known about a rail. The zero value knows and judges nothing.
// Voltages are by size: those of a negative rail are given without their sign.
type Options struct {
	// NominalVolts is what the rail should be; 0 where it is what the record shows.
	NominalVolts float64
	// MainsHertz is 50 or 60; 0 where it may be either.
	MainsHertz float64
	// HalfWave tells that the rectifier is meant to charge once a mains period.
	HalfWave bool
	Limits   Limits
}

// Limits are what the figures are judged by, from a sheet; 0 where there is none.
type Limits struct {
	LowVolts, HighVolts   float64
	RipplePeakToPeakVolts float64
	// TroughVolts is how low each cycle may go: a regulator's output and its
	// drop-out (W-06: about 7 V for a linear 5 V one).
	TroughVolts            float64
	StartSeconds           float64
	StartOvershootPercent  float64
	BrownOutShortestSecond float64 // dips shorter than this are no finding
}

// Validate says what is wrong with the options, all of it at once.
func (o Options) Validate() error {
	var wrong []error
	for _, figure := range []struct {
		key   string
		value float64
	}{
		{"nominal_v", o.NominalVolts}, {"limit low_v", o.Limits.LowVolts}, {"limit high_v", o.Limits.HighVolts},
		{"limit ripple_pp_v", o.Limits.RipplePeakToPeakVolts}, {"limit trough_v", o.Limits.TroughVolts}, {"limit start_s", o.Limits.StartSeconds},
		{"limit start_overshoot_pct", o.Limits.StartOvershootPercent}, {"limit brown_out_s", o.Limits.BrownOutShortestSecond},
	} {
		if !(figure.value >= 0) || math.IsInf(figure.value, 0) {
			wrong = append(wrong, fmt.Errorf("%s is %v, wanted 0 or more", figure.key, figure.value))
		}
	}
	if o.MainsHertz != 0 && o.MainsHertz != 50 && o.MainsHertz != 60 {
		wrong = append(wrong, fmt.Errorf("mains_hz is %v, wanted 50 or 60", o.MainsHertz))
	}
	if l := o.Limits; l.LowVolts > 0 && l.HighVolts > 0 && l.LowVolts >= l.HighVolts {
		wrong = append(wrong, fmt.Errorf("limit low_v %v is not below high_v %v", l.LowVolts, l.HighVolts))
	}
	return errors.Join(wrong...)
}
