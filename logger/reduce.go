package logger

import (
	"math"
	"slices"

	"soakline/device"
)

// takeCapture reduces a scope record to the readings that its test points' checks
// ask for; they are judged like any other.
func (b *Bench) takeCapture(d delivery) {
	for _, route := range b.routes.Load().of(d.instrument, d.channel, "") {
		for _, r := range reduce(*d.capture, route.captured) {
			b.judge(route, r)
		}
	}
}

// reduce measures a record. What cannot be measured in it gives no reading.
func reduce(record device.Capture, measures []device.Measure) []device.Reading {
	var readings []device.Reading
	for _, measure := range measures {
		if measure == device.PeakToPeak {
			readings = append(readings, peakToPeak(record))
		}
	}
	return readings
}

// peakToPeak is the highest less the lowest sample; each is known to half a code
// of the converter (rectangular, JCGM 100:2008, 4.3.7).
func peakToPeak(record device.Capture) device.Reading {
	return device.Reading{Measure: device.PeakToPeak, At: record.At,
		Value:               slices.Max(record.Volts) - slices.Min(record.Volts),
		StandardUncertainty: record.StepVolts * math.Sqrt2 / (2 * math.Sqrt(3))}
}
