package video

import (
	"errors"
	"fmt"
	"math"
)

// Limits are what the figures are judged by. A field that is 0 is not judged. They
// come from a test sheet; where there is none, WorkshopLimits will do.
type Limits struct {
	// LevelShare is how far sync tip to white may be from nominal, as a share.
	LevelShare float64
	// BlankingVolts is how far blanking may be from 0 V on a DC-coupled input.
	BlankingVolts float64
	// OvershootPercent and UndershootPercent are shares of the transition.
	OvershootPercent, UndershootPercent float64
	// RiseSeconds is the longest transition duration at RiseIntervalSeconds
	// between samples and below. Above, the excess widens it: limit² = rise² +
	// interval² - RiseIntervalSeconds².
	RiseSeconds, RiseIntervalSeconds float64
	NoiseVolts                       float64 // rms
	ToneVolts                        float64 // rms of one tone
	HumVolts                         float64 // peak to peak
	TiltPercent                      float64 // over one line
	// SyncShareAtLeast and BurstShareAtLeast are shares of nominal.
	SyncShareAtLeast, BurstShareAtLeast float64
	// WhiteShareAtLeast is the least white may be, as a share of what the sync
	// amplitude lets expect.
	WhiteShareAtLeast float64
	// LineRateShare is how far the line rate may be from one that is in use.
	LineRateShare float64
	// A level that is off by a factor from UnterminatedFrom to UnterminatedTo looks
	// unterminated; one from DoubleTerminatedFrom to DoubleTerminatedTo looks
	// doubly terminated.
	UnterminatedFrom, UnterminatedTo         float64
	DoubleTerminatedFrom, DoubleTerminatedTo float64
}

// WorkshopLimits are the limits where no test sheet says otherwise. They are
// common practice and have no source.
func WorkshopLimits() Limits {
	return Limits{
		LevelShare: 0.05, BlankingVolts: 0.050,
		OvershootPercent: 4, UndershootPercent: 4,
		RiseSeconds: 85e-9, RiseIntervalSeconds: 20e-9,
		NoiseVolts: 0.010, ToneVolts: 0.003, HumVolts: 0.030, TiltPercent: 3,
		SyncShareAtLeast: 0.80, BurstShareAtLeast: 0.75, WhiteShareAtLeast: 0.90,
		LineRateShare:    0.001,
		UnterminatedFrom: 1.6, UnterminatedTo: 2.6,
		DoubleTerminatedFrom: 0.62, DoubleTerminatedTo: 0.72,
	}
}

// Validate reports every limit that is negative or not a number and every pair
// that is the wrong way round, all of them at once.
func (l Limits) Validate() error {
	var all []error
	for _, f := range []struct {
		key   string
		value float64
	}{
		{"level_share", l.LevelShare}, {"blanking_v", l.BlankingVolts},
		{"overshoot_pct", l.OvershootPercent}, {"undershoot_pct", l.UndershootPercent},
		{"rise_s", l.RiseSeconds}, {"rise_interval_s", l.RiseIntervalSeconds},
		{"noise_v", l.NoiseVolts}, {"tone_v", l.ToneVolts}, {"hum_v", l.HumVolts}, {"tilt_pct", l.TiltPercent},
		{"sync_share_at_least", l.SyncShareAtLeast}, {"burst_share_at_least", l.BurstShareAtLeast},
		{"white_share_at_least", l.WhiteShareAtLeast}, {"line_rate_share", l.LineRateShare},
		{"unterminated_from", l.UnterminatedFrom}, {"unterminated_to", l.UnterminatedTo},
		{"double_terminated_from", l.DoubleTerminatedFrom}, {"double_terminated_to", l.DoubleTerminatedTo},
	} {
		if !(f.value >= 0) || math.IsInf(f.value, 0) {
			all = append(all, fmt.Errorf("%s is %g, must be 0 or above", f.key, f.value))
		}
	}
	if l.UnterminatedFrom > l.UnterminatedTo {
		all = append(all, errors.New("unterminated_from is above unterminated_to"))
	}
	if l.DoubleTerminatedFrom > l.DoubleTerminatedTo {
		all = append(all, errors.New("double_terminated_from is above double_terminated_to"))
	}
	return errors.Join(all...)
}

// riseLimit is the longest transition duration allowed dt seconds between samples;
// 0 if it is not judged.
func (l Limits) riseLimit(dt float64) float64 {
	if l.RiseSeconds == 0 || dt <= l.RiseIntervalSeconds {
		return l.RiseSeconds
	}
	return math.Sqrt(l.RiseSeconds*l.RiseSeconds + dt*dt - l.RiseIntervalSeconds*l.RiseIntervalSeconds)
}
