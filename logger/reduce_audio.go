package logger

import (
	"math"

	"soakline/checks"
	"soakline/checks/audio"
	"soakline/device"
)

// reduceAudio measures an audio output, and the other channel with it where both
// were taken at once.
func reduceAudio(record device.Capture, point checks.TestPoint) (reduction, error) {
	result, err := analyseAudio(record, point)
	if err != nil {
		return reduction{}, err
	}
	reduced := reduction{readings: result.Readings(0, record.At), findings: result.Findings, spectrum: result.Channels[0].Spectrum}
	if balance, ok := result.BalanceReading(record.At); ok {
		reduced.readings = append(reduced.readings, balance)
	}
	return reduced, nil
}

// analyseAudio is the whole analysis of a record of an audio output, judged by the
// sheet's own limits. The point's own channel is the first.
func analyseAudio(record device.Capture, point checks.TestPoint) (audio.Result, error) {
	all := audio.Record{SampleIntervalSeconds: record.SampleIntervalSeconds, Channels: []audio.Channel{audioChannel(point.Name, record)}}
	if beside := record.Beside; beside != nil {
		all.Channels = append(all.Channels, audioChannel(point.Audio.Beside, *beside))
	}
	return audio.Analyse(all, audio.Options{MainsHertz: point.Audio.MainsHertz, ToneHertz: point.Audio.ToneHertz,
		Limits: audioLimits(point), FirstOnly: true})
}

func audioChannel(name checks.TestPointName, record device.Capture) audio.Channel {
	return audio.Channel{Name: string(name), Volts: record.Volts, StepVolts: record.StepVolts,
		LowVolts: record.LowVolts, HighVolts: record.HighVolts}
}

// audioLimits are the limits of the test point's own checks, so that a finding and a
// verdict cannot speak against each other; what the sheet does not limit is not
// judged. Hum and noise are limited in volts, which findings say against the
// level's nominal figure.
func audioLimits(point checks.TestPoint) audio.Limits {
	limits := audio.Limits{AlikeAtLeast: point.Audio.AlikeAtLeast}
	nominal := math.NaN()
	for _, check := range point.Checks {
		if check.Measure == device.ACVoltage {
			nominal = check.Limit.Nominal
			set(&limits.LowVolts, check.Limit.Low)
			set(&limits.HighVolts, check.Limit.High)
		}
	}
	for _, check := range point.Checks {
		l := check.Limit
		switch check.Measure {
		case device.DCVoltage:
			set(&limits.DCVolts, math.Max(math.Abs(l.Low), math.Abs(l.High)))
		case device.HarmonicDistortion:
			set(&limits.DistortionPercent, 100*l.High)
		case device.Hum:
			set(&limits.HumDecibels, decibels(nominal/l.High))
		case device.Noise:
			set(&limits.SignalToNoiseGoodDecibels, decibels(nominal/l.High))
			limits.SignalToNoiseFaultDecibels = limits.SignalToNoiseGoodDecibels
		case device.ChannelBalance:
			set(&limits.BalancePassDecibels, math.Max(decibels(l.High), -decibels(l.Low)))
			limits.BalanceFailDecibels = limits.BalancePassDecibels
		}
	}
	return limits
}

func decibels(ratio float64) float64 { return 20 * math.Log10(ratio) }
