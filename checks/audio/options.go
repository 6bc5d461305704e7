package audio

import (
	"errors"
	"fmt"
	"math"
)

// Options say what is known beforehand. The zero value knows and judges nothing.
type Options struct {
	// MainsHertz is 50 or 60; 0 where it may be either.
	MainsHertz float64
	// ToneHertz is the test tone's frequency to 2 %; 0 where it is to be found.
	ToneHertz float64
	// Limits are what the figures are judged by.
	Limits Limits
	// FirstOnly has nothing said of the second channel by itself: it is there for the
	// first to be compared with.
	FirstOnly bool
}

func (o Options) check() error {
	if o.MainsHertz != 0 && o.MainsHertz != 50 && o.MainsHertz != 60 {
		return fmt.Errorf("mains frequency %g Hz is neither 50 nor 60", o.MainsHertz)
	}
	if !(o.ToneHertz >= 0) || math.IsInf(o.ToneHertz, 0) {
		return fmt.Errorf("test tone %g Hz: wanted above 0, or 0 where it is not known", o.ToneHertz)
	}
	if err := o.Limits.Validate(); err != nil {
		return fmt.Errorf("limits: %w", err)
	}
	return nil
}

// Limits are what the figures are judged by. A field that is 0 is not judged. They
// come from a test sheet; where there is none, WorkshopLimits will do.
type Limits struct {
	// LowVolts and HighVolts are the ends of the level's limit, rms.
	LowVolts, HighVolts float64
	// BalancePassDecibels is how far the channels may be apart, BalanceFailDecibels
	// from where on it is a fault.
	BalancePassDecibels, BalanceFailDecibels float64
	// SignalToNoiseGoodDecibels and SignalToNoiseFaultDecibels likewise.
	SignalToNoiseGoodDecibels, SignalToNoiseFaultDecibels float64
	// HumDecibels is how far all hum together must be below the tone, or below 0 dBV
	// where there is none.
	HumDecibels float64
	// DistortionPercent is the most THD+N may be where noise is not what it is of.
	DistortionPercent float64
	// DCVolts is how far the mean may be from 0 V.
	DCVolts float64
	// AlikeAtLeast is the least correlation of channels that should carry the same.
	AlikeAtLeast float64
}

// WorkshopLimits are the limits where no test sheet says otherwise: balance and
// signal to noise A-27, the others common practice without a source. There is none
// for the level: consoles of that age give anything from 0.1 to 1 V.
func WorkshopLimits() Limits {
	return Limits{
		BalancePassDecibels: 1, BalanceFailDecibels: 3,
		SignalToNoiseGoodDecibels: 60, SignalToNoiseFaultDecibels: 40,
		HumDecibels: 60, DistortionPercent: 1, DCVolts: 0.05, AlikeAtLeast: 0.9,
	}
}

// Validate reports every limit that is negative or not a number and every pair that
// is the wrong way round, all of them at once.
func (l Limits) Validate() error {
	var all []error
	for _, f := range []struct {
		key   string
		value float64
	}{
		{"low_v", l.LowVolts}, {"high_v", l.HighVolts},
		{"balance_pass_db", l.BalancePassDecibels}, {"balance_fail_db", l.BalanceFailDecibels},
		{"signal_to_noise_good_db", l.SignalToNoiseGoodDecibels}, {"signal_to_noise_fault_db", l.SignalToNoiseFaultDecibels},
		{"hum_db", l.HumDecibels}, {"distortion_pct", l.DistortionPercent}, {"dc_v", l.DCVolts}, {"alike_at_least", l.AlikeAtLeast},
	} {
		if !(f.value >= 0) || math.IsInf(f.value, 0) {
			all = append(all, fmt.Errorf("%s is %g, must be 0 or above", f.key, f.value))
		}
	}
	for _, pair := range []struct {
		low, high float64
		text      string
	}{
		{l.LowVolts, l.HighVolts, "low_v is above high_v"},
		{l.BalancePassDecibels, l.BalanceFailDecibels, "balance_pass_db is above balance_fail_db"},
		{l.SignalToNoiseFaultDecibels, l.SignalToNoiseGoodDecibels, "signal_to_noise_fault_db is above signal_to_noise_good_db"},
	} {
		if pair.high > 0 && pair.low > pair.high {
			all = append(all, errors.New(pair.text))
		}
	}
	return errors.Join(all...)
}
