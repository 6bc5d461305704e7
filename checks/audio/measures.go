package audio

import (
	"math"
	"time"

	"soakline/device"
)

// Readings reduces one channel to readings of the bench's measures, taken at the
// given time; what was not measured is left out. Shares are ratios here: 4 % is
// 0.04. A record without volts gives ratios only.
func (r Result) Readings(channel int, at time.Time) []device.Reading {
	c := r.Channels[channel]
	var all []device.Reading
	add := func(measure device.Measure, m Measured) {
		relative := r.Relative && measure.Unit() == device.Volt
		if m.OK() && !math.IsInf(m.Value, 0) && !relative {
			all = append(all, device.Reading{Measure: measure, Value: m.Value, StandardUncertainty: m.U, At: at})
		}
	}
	add(device.ACVoltage, c.RMSVolts)
	add(device.DCVoltage, c.DCVolts)
	add(device.PeakToPeak, c.PeakToPeakVolts)
	add(device.CrestFactor, c.CrestFactor)
	add(device.Noise, c.NoiseVolts)
	add(device.NoiseAWeighted, c.NoiseAVolts)
	add(device.Hum, c.HumVolts)
	add(device.HarmonicDistortion, c.THDPercent.times(0.01))
	add(device.DistortionAndNoise, c.THDNPercent.times(0.01))
	add(device.Frequency, c.ToneHertz)
	add(device.Click, c.highestClick())
	add(device.Dropout, c.timeWithoutTone())
	return all
}

// highestClick is 0 where there was none, and not measured in a record too short to
// tell.
func (c ChannelResult) highestClick() Measured {
	if len(c.blocks.squares) < leastBlocks {
		return notMeasured()
	}
	var highest Measured
	for _, d := range c.Clicks {
		highest.Value = math.Max(highest.Value, d.Volts)
	}
	return highest
}

// timeWithoutTone is not measured where there is no tone to be missed.
func (c ChannelResult) timeWithoutTone() Measured {
	if len(c.blocks.squares) < leastBlocks || !c.ToneHertz.OK() {
		return notMeasured()
	}
	var all Measured
	for _, d := range c.Dropouts {
		all.Value += d.Seconds
	}
	return all
}

// BalanceReading is the first channel's level over the second's, 1 where they are
// alike; ok is false where there are no two channels to compare.
func (r Result) BalanceReading(at time.Time) (reading device.Reading, ok bool) {
	b := r.Balance.Decibels
	if !b.OK() {
		return reading, false
	}
	ratio := math.Pow(10, b.Value/20)
	return device.Reading{Measure: device.ChannelBalance, Value: ratio, StandardUncertainty: ratio * b.U / neper, At: at}, true
}
