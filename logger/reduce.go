package logger

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"soakline/checks"
	"soakline/checks/audio"
	"soakline/checks/video"
	"soakline/device"
)

// reduction is what one scope record says: readings of the measures it was reduced
// to, with their standard uncertainty, and what was noticed. What cannot be
// measured in a record gives no reading.
type reduction struct {
	readings []device.Reading
	findings []checks.Finding
	spectrum audio.Spectrum // of an audio output
}

// takeCapture reduces a scope record to the readings that its test points' checks
// ask for; they are judged like any other.
func (b *Bench) takeCapture(d delivery) {
	for _, route := range b.routes.Load().of(d.instrument, d.channel, "") {
		reduced, err := d.reduction(route)
		if err != nil {
			b.note(device.Event{Instrument: d.instrument, Kind: device.Garbage, At: d.capture.At,
				Text: fmt.Sprintf("a record of %s at %s: %v", route.soak.unit, route.point.Name, err)})
			continue
		}
		route.soak.findings[route.point.Name] = reduced.findings
		for _, r := range reduced.readings {
			if slices.Contains(route.captured, r.Measure) {
				b.judge(route, r)
			}
		}
		b.keepRecord(route, *d.capture)
	}
}

// reduce measures a record of a test point: a composite output as a line of video,
// judged by the sheet's own limits, an audio output and a reservoir's ripple likewise,
// anything else from its highest to its lowest sample.
func reduce(record device.Capture, point checks.TestPoint, sheet checks.Sheet, with beside) (reduction, error) {
	if len(record.Volts) == 0 {
		return reduction{}, errors.New("the record is empty")
	}
	if point.Audio != nil {
		return reduceAudio(record, point)
	}
	if point.IsComposite() {
		return reduceVideo(record, point, sheet)
	}
	var r reduction
	if clipped(record) {
		found, err := captureFindings.Find(codeClipped, checks.Outside,
			checks.Figure(record.LowVolts, 0, device.Volt), checks.Figure(record.HighVolts, 0, device.Volt))
		r.findings = append(r.findings, found)
		return r, err
	}
	if point.Reservoir != nil {
		return reduceRipple(record, point, with)
	}
	for _, check := range point.Checks {
		if check.Measure == device.PeakToPeak || check.Measure == device.Ripple {
			r.readings = append(r.readings, peakToPeak(record, check.Measure))
		}
	}
	return r, nil
}

// codeClipped is the code that a clipped line of video has as well.
const codeClipped checks.FindingCode = "clipped-by-range"

// codeLoadNotKnown is that a reservoir's load was to be read and was not.
const codeLoadNotKnown checks.FindingCode = "load-not-known"

var captureFindings = checks.MustFindingTable(checks.FindingKind{
	Code:     codeClipped,
	Sentence: "The record reaches the end of the scope's range (%s to %s), so that nobody knows how far the signal goes.",
	Advice:   "Choose a range that holds the whole signal, and measure again.",
}, checks.FindingKind{
	Code:     codeLoadNotKnown,
	Sentence: "The ripple says nothing of the capacitor: the load current at %s was not read beside it.",
	Advice:   "Look at what reads the current, and that the unit draws some.",
})

// clipped tells whether a sample stands on an end of the scope's range.
func clipped(record device.Capture) bool {
	if record.LowVolts == 0 && record.HighVolts == 0 {
		return false
	}
	return slices.Min(record.Volts) <= record.LowVolts || slices.Max(record.Volts) >= record.HighVolts
}

// peakToPeak is the highest less the lowest sample; each is known to half a code
// of the converter (rectangular, JCGM 100:2008, 4.3.7).
func peakToPeak(record device.Capture, as device.Measure) device.Reading {
	return device.Reading{Measure: as, At: record.At,
		Value:               slices.Max(record.Volts) - slices.Min(record.Volts),
		StandardUncertainty: record.StepVolts * math.Sqrt2 / (2 * math.Sqrt(3))}
}

// reduceVideo measures a line of composite video.
func reduceVideo(record device.Capture, point checks.TestPoint, sheet checks.Sheet) (reduction, error) {
	result, err := analyseVideo(record, point, sheet)
	if err != nil {
		return reduction{}, err
	}
	return reduction{readings: result.Readings(record.At), findings: result.Findings}, nil
}

// analyseVideo is the whole analysis of a record of a composite output.
func analyseVideo(record device.Capture, point checks.TestPoint, sheet checks.Sheet) (video.Result, error) {
	options := video.Options{System: video.System(sheet.VideoSystem), Limits: videoLimits(point)}
	return video.Analyse(video.FromCapture(record), options)
}
