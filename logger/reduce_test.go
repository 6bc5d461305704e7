package logger

import (
	"errors"
	"math"
	"testing"
	"time"

	"soakline/checks"
	"soakline/checks/video"
	"soakline/device"
	"soakline/logger/book"
)

func pointWith(measures ...device.Measure) checks.TestPoint {
	point := checks.TestPoint{Name: "point"}
	for _, m := range measures {
		point.Checks = append(point.Checks, checks.Check{Measure: m, Limit: checks.Limit{Low: math.Inf(-1), High: 1, Nominal: math.NaN()}})
	}
	return point
}

func TestReduceFromHighestToLowestSample(t *testing.T) {
	at := time.UnixMicro(1_700_000_000_000_000)
	record := func(volts ...float64) device.Capture {
		return device.Capture{Volts: volts, SampleIntervalSeconds: 1e-6, StepVolts: 0.01, LowVolts: -1, HighVolts: 1, At: at}
	}
	rows := []struct {
		name     string
		record   device.Capture
		point    checks.TestPoint
		value    float64 // NaN: no reading
		findings int
		source   string
	}{
		{"ripple", record(-0.25, 0.5, 0.1), pointWith(device.Ripple), 0.75, 0, "by hand"},
		{"peak to peak", record(-0.25, 0.5, 0.1), pointWith(device.PeakToPeak), 0.75, 0, "by hand"},
		{"one sample", record(0.3), pointWith(device.Ripple), 0, 0, "by hand"},
		{"just inside the range", record(-0.99, 0.99), pointWith(device.Ripple), 1.98, 0, "by hand"},
		{"on the high end of the range", record(0, 1), pointWith(device.Ripple), math.NaN(), 1, "a clipped record shows no peak"},
		{"on the low end of the range", record(-1, 0), pointWith(device.Ripple), math.NaN(), 1, "a clipped record shows no peak"},
		{"nothing asked that it can give", record(0, 0.5), pointWith(device.Frequency), math.NaN(), 0, "by hand"},
	}
	for _, row := range rows {
		got, err := reduce(row.record, row.point, checks.Sheet{}, beside{})
		if err != nil {
			t.Errorf("%s: %v", row.name, err)
			continue
		}
		if len(got.findings) != row.findings {
			t.Errorf("%s: findings %v", row.name, got.findings)
		}
		if math.IsNaN(row.value) {
			if len(got.readings) != 0 {
				t.Errorf("%s: a made-up figure %v (%s)", row.name, got.readings, row.source)
			}
			continue
		}
		if len(got.readings) != 1 {
			t.Errorf("%s: %d readings", row.name, len(got.readings))
			continue
		}
		r := got.readings[0]
		// Two ends, each within half a code of 10 mV: sqrt(2) 5 mV / sqrt(3) = 4.08 mV
		// (JCGM 100:2008, 4.3.7 and 5.1.2).
		if math.Abs(r.Value-row.value) > 1e-12 || math.Abs(r.StandardUncertainty-0.004082) > 1e-6 || !r.At.Equal(at) || r.Measure != row.point.Checks[0].Measure {
			t.Errorf("%s: %+v, want %g (%s)", row.name, r, row.value, row.source)
		}
	}
}

func TestReduceRefusesWhatCannotBeLookedAt(t *testing.T) {
	for _, point := range []checks.TestPoint{pointWith(device.Ripple), pointWith(device.LumaPeakToPeak)} {
		if r, err := reduce(device.Capture{SampleIntervalSeconds: 1e-6}, point, checks.Sheet{}, beside{}); err == nil {
			t.Errorf("an empty record gave %v", r)
		}
	}
	record := device.Capture{Volts: []float64{0, math.NaN(), 0}, SampleIntervalSeconds: 1e-8}
	if r, err := reduce(record, pointWith(device.LumaPeakToPeak), checks.Sheet{}, beside{}); !errors.Is(err, video.ErrRecord) {
		t.Errorf("a record that is not a number gave %v, %v", r, err)
	}
	flat := device.Capture{Volts: make([]float64, 5000), SampleIntervalSeconds: 4e-8}
	r, err := reduce(flat, pointWith(device.LumaPeakToPeak, device.SyncAmplitude), checks.Sheet{}, beside{})
	if err != nil || len(r.findings) == 0 {
		t.Errorf("a flat record: %v, %v, want a finding", r, err)
	}
	for _, reading := range r.readings {
		if reading.Measure.OfVideo() {
			t.Errorf("a flat record has %s %g", reading.Measure, reading.Value)
		}
	}
}

// TestVideoLimitsAreTheSheets: what a sheet limits wins over the workshop's own,
// what it leaves open does not.
func TestVideoLimitsAreTheSheets(t *testing.T) {
	limit := func(m device.Measure, low, nominal, high float64) checks.Check {
		return checks.Check{Measure: m, Limit: checks.Limit{Low: low, Nominal: nominal, High: high}}
	}
	inf, nan := math.Inf(1), math.NaN()
	got := videoLimits(checks.TestPoint{Checks: []checks.Check{
		limit(device.LumaPeakToPeak, 0.9, 1, 1.05), limit(device.Blanking, -0.02, 0, 0.03), limit(device.Overshoot, -inf, nan, 0.1),
		limit(device.Undershoot, -inf, nan, 0.06), limit(device.Tilt, -inf, nan, 0.02), limit(device.Rise, -inf, nan, 120e-9),
		limit(device.Noise, -inf, nan, 0.02), limit(device.SyncAmplitude, 0.21, 0.3, inf), limit(device.Burst, 0.15, 0.3, inf),
		limit(device.LinePeriod, 63.68e-6, 64e-6, 64.1e-6),
	}})
	rows := []struct {
		name      string
		got, want float64
	}{
		{"level", got.LevelShare, 0.1}, {"blanking", got.BlankingVolts, 0.03}, {"overshoot", got.OvershootPercent, 10},
		{"undershoot", got.UndershootPercent, 6}, {"tilt", got.TiltPercent, 2}, {"rise", got.RiseSeconds, 120e-9},
		{"noise", got.NoiseVolts, 0.02}, {"sync", got.SyncShareAtLeast, 0.7}, {"burst", got.BurstShareAtLeast, 0.5},
		{"line rate", got.LineRateShare, 0.005},
		{"hum, which the sheet leaves open", got.HumVolts, video.WorkshopLimits().HumVolts},
	}
	for _, row := range rows {
		if math.Abs(row.got-row.want) > 1e-9*math.Max(1, row.want) {
			t.Errorf("%s: %g, want %g", row.name, row.got, row.want)
		}
	}
	open := videoLimits(checks.TestPoint{Checks: []checks.Check{limit(device.Overshoot, 0, nan, inf), limit(device.LumaPeakToPeak, 0.5, nan, inf)}})
	if open != video.WorkshopLimits() {
		t.Errorf("open limits gave %+v", open)
	}
}

// TestOneRecordForAllOfATestPoint: where a check needs a record, what could be
// asked for is taken from the same record; where none does, it is asked for.
func TestOneRecordForAllOfATestPoint(t *testing.T) {
	scope := &device.CommandSet{Capture: &device.CaptureAsk{}, Asks: []device.Ask{{Measure: device.PeakToPeak}, {Measure: device.Frequency}}}
	meter := &device.CommandSet{Asks: []device.Ask{{Measure: device.DCVoltage}}}
	talker := &device.CommandSet{Listen: &device.Listen{Measure: device.DCVoltage}}
	composite := pointWith(device.PeakToPeak, device.LumaPeakToPeak, device.Frequency)
	rows := []struct {
		commands *device.CommandSet
		point    checks.TestPoint
		measure  device.Measure
		want     manner
	}{
		{scope, composite, device.PeakToPeak, byCapture},
		{scope, composite, device.LumaPeakToPeak, byCapture},
		{scope, composite, device.Frequency, byAsking},
		{scope, composite, device.Bandwidth, byCapture},
		{scope, pointWith(device.PeakToPeak), device.PeakToPeak, byAsking},
		{scope, pointWith(device.Ripple), device.Ripple, byCapture},
		{scope, composite, device.DCVoltage, byNothing},
		{meter, pointWith(device.DCVoltage), device.DCVoltage, byAsking},
		{meter, composite, device.LumaPeakToPeak, byNothing},
		{talker, pointWith(device.DCVoltage), device.DCVoltage, byListening},
	}
	for _, row := range rows {
		if got, _ := commandedBy(row.commands, row.point, row.measure); got != row.want {
			t.Errorf("%s with asks %v: manner %d, want %d", row.measure, row.commands.Asks, got, row.want)
		}
	}
}

func TestWhichRecordsAreKept(t *testing.T) {
	at := time.Unix(1_700_000_000, 0)
	rows := []struct {
		name string
		k    recordKeeping
		want book.CaptureKind
	}{
		{"the first", recordKeeping{}, book.CaptureBegin},
		{"soon after", recordKeeping{begun: true, lastKept: at.Add(-time.Minute)}, ""},
		{"just before the time", recordKeeping{begun: true, lastKept: at.Add(-keepEvery + 1)}, ""},
		{"at the time", recordKeeping{begun: true, lastKept: at.Add(-keepEvery)}, book.CaptureTimed},
		{"a change", recordKeeping{begun: true, changed: true, lastKept: at.Add(-time.Minute), lastChange: at.Add(-keepChangeEvery)}, book.CaptureChange},
		{"a change right after another", recordKeeping{begun: true, changed: true, lastKept: at.Add(-time.Second), lastChange: at.Add(-keepChangeEvery + 1)}, ""},
		{"a change after enough of them", recordKeeping{begun: true, changed: true, kept: keepAtMost}, ""},
		{"one less than enough", recordKeeping{begun: true, changed: true, kept: keepAtMost - 1}, book.CaptureChange},
	}
	for _, row := range rows {
		if got := row.k.due(at); got != row.want {
			t.Errorf("%s: %q, want %q", row.name, got, row.want)
		}
	}
}
