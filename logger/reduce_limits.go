package logger

import (
	"math"

	"soakline/checks"
	"soakline/checks/video"
	"soakline/device"
)

// videoLimits are what a line's findings go by: the limits of the test point's own
// checks, so that a finding and a verdict cannot speak against each other, and the
// workshop's where the sheet does not say.
func videoLimits(point checks.TestPoint) video.Limits {
	limits := video.WorkshopLimits()
	for _, check := range point.Checks {
		l := check.Limit
		switch check.Measure {
		case device.LumaPeakToPeak:
			set(&limits.LevelShare, math.Max(l.High-l.Nominal, l.Nominal-l.Low)/l.Nominal)
		case device.Blanking:
			set(&limits.BlankingVolts, math.Max(math.Abs(l.Low), math.Abs(l.High)))
		case device.Overshoot:
			set(&limits.OvershootPercent, 100*l.High)
		case device.Undershoot:
			set(&limits.UndershootPercent, 100*l.High)
		case device.Tilt:
			set(&limits.TiltPercent, 100*l.High)
		case device.Rise:
			set(&limits.RiseSeconds, l.High)
		case device.Noise:
			set(&limits.NoiseVolts, l.High)
		case device.SyncAmplitude:
			set(&limits.SyncShareAtLeast, l.Low/l.Nominal)
		case device.Burst:
			set(&limits.BurstShareAtLeast, l.Low/l.Nominal)
		case device.LinePeriod:
			set(&limits.LineRateShare, math.Max(l.High-l.Nominal, l.Nominal-l.Low)/l.Nominal)
		}
	}
	return limits
}

// set replaces a limit by one that the sheet gives; an open end gives none.
func set(limit *float64, given float64) {
	if given > 0 && !math.IsInf(given, 0) {
		*limit = given
	}
}
