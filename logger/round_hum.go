package logger

import (
	"time"

	"soakline/checks"
	"soakline/checks/video"
	"soakline/device"
)

// videoSeries is several records of one composite output with their starts.
type videoSeries struct {
	begin time.Time
	shots []video.Shot
}

// add takes a record whose time is known.
func (s *videoSeries) add(record device.Capture) {
	if record.DoneAt.IsZero() {
		return
	}
	if len(s.shots) == 0 {
		s.begin = record.DoneAt
	}
	length := float64(len(record.Volts)) * record.SampleIntervalSeconds
	s.shots = append(s.shots, video.Shot{Record: video.FromCapture(record),
		StartSeconds: record.DoneAt.Sub(s.begin).Seconds() - length})
}

// hum says what the records of a composite output say together: mains hum, which a
// record of a few lines cannot show. Records without a time say nothing.
func (w *pointWork) hum(records videoSeries) {
	if !w.report.Step.Point.IsComposite() || len(records.shots) == 0 {
		return
	}
	series, err := video.AnalyseSeries(records.shots, video.Options{System: video.System(w.sheet.VideoSystem),
		MainsHertz: mainsOf(w.sheet.VideoSystem), Limits: videoLimits(w.report.Step.Point)})
	if err != nil {
		w.remark("hum: %v", err)
		return
	}
	w.report.Findings = append(w.report.Findings, series.Findings...)
	if len(series.Findings) > 0 { // what is within its limit may as well be noise
		w.remark("hum %s peak to peak at %s, from %d records", checks.Figure(series.HumVolts.Value, series.HumVolts.U, device.Volt),
			checks.Figure(series.HumHertz, 0, device.Hertz), len(records.shots))
	}
}

// mainsOf is the mains frequency where a line system is at home, whose field rate
// was chosen after it; a few records cannot tell 50 Hz from 60 Hz by themselves.
func mainsOf(system string) float64 {
	switch video.System(system) {
	case video.System625:
		return 50
	case video.System525:
		return 60
	}
	return 0
}
