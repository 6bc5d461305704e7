package video

import (
	"math"
	"time"

	"soakline/device"
)

// Readings reduces the result to readings of the bench's measures, taken at the
// given time; what was not measured is left out, and so are levels against 0 V from
// an AC-coupled input. Shares are ratios here: 4 % is 0.04.
func (r Result) Readings(at time.Time) []device.Reading {
	var all []device.Reading
	add := func(measure device.Measure, m Measured) {
		if m.OK() && !math.IsInf(m.Value, 0) {
			all = append(all, device.Reading{Measure: measure, Value: m.Value, StandardUncertainty: m.U, At: at})
		}
	}
	add(device.PeakToPeak, r.PeakToPeakVolts)
	add(device.LumaPeakToPeak, r.LumaPeakToPeakVolts)
	if r.Coupling != CouplingAC {
		add(device.SyncTip, r.SyncTipVolts)
		add(device.Blanking, r.BlankingVolts)
		add(device.Black, r.BlackVolts)
		add(device.White, r.WhiteVolts)
	}
	add(device.SyncAmplitude, r.SyncVolts)
	add(device.Picture, r.PictureVolts)
	add(device.Burst, r.BurstPeakToPeakVolts)
	add(device.BurstFrequency, r.BurstHertz)
	add(device.Overshoot, r.OvershootPercent.times(0.01))
	add(device.Undershoot, r.UndershootPercent.times(0.01))
	add(device.Tilt, r.TiltPercent.times(0.01))
	add(device.Rise, r.RiseSeconds)
	add(device.Fall, r.FallSeconds)
	add(device.Noise, r.NoiseVolts)
	add(device.LinePeriod, r.LinePeriodSeconds)
	add(device.SyncWidth, r.SyncWidthSeconds)
	add(device.Bandwidth, r.BandwidthHertz)
	return all
}
