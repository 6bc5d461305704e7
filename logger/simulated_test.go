package logger_test

import (
	"context"
	"log/slog"
	"math"
	"path/filepath"
	"testing"
	"time"

	"soakline/checks"
	"soakline/device"
	"soakline/device/simbench"
	"soakline/logger"
	"soakline/logger/book"
)

// simulated is a bench that runs on simulated instruments behind real ports.
type simulated struct {
	*logger.Bench
	sim   *simbench.Bench
	sheet checks.Sheet
}

// newSimulated starts instruments and bench; both end with the test.
func newSimulated(t *testing.T, change ...func(*logger.Settings)) simulated {
	t.Helper()
	dir := t.TempDir()
	sim, err := simbench.New(simbench.DemoConfig(dir))
	if err != nil {
		t.Fatal(err)
	}
	background(t, sim.Run)
	<-sim.Ready()
	settings := simulatedSettings(sim.Ports(), dir)
	for _, f := range change {
		f(&settings)
	}
	b, err := book.Open(t.Context(), settings.Book, book.Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := b.Close(); err != nil {
			t.Error(err)
		}
	})
	sheet := settings.Sheets[0]
	bench := logger.NewBench(settings, logger.Options{Book: b, Log: slog.New(slog.DiscardHandler),
		ParseSheet: func(string, []byte) (checks.Sheet, error) { return sheet, nil },
		SheetTexts: map[string][]byte{sheet.Hash: []byte(sheetText)}})
	background(t, bench.Run)
	if err := bench.AddUnit(t.Context(), book.Unit{ID: "B8-0147", Console: "Brambling 8"}); err != nil {
		t.Fatal(err)
	}
	return simulated{bench, sim, sheet}
}

// background runs work until the test ends.
func background(t *testing.T, work func(context.Context) error) {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- work(ctx) }()
	t.Cleanup(func() {
		cancel()
		if err := <-ended; err != nil {
			t.Error(err)
		}
	})
}

const sheetText = "name: brambling-8\n"

func simulatedSettings(ports map[string]string, dir string) logger.Settings {
	line := device.LineSettings{Baud: 115200, DataBits: 8, Parity: "none", StopBits: "1", Flow: "none", SendEnding: "lf"}
	meter := device.CommandSet{Name: "meter", Line: line, Identify: "*IDN?", Prepare: []string{"*CLS"}, Select: "ROUTe:CLOSe (@{channel})",
		Asks: []device.Ask{{Measure: device.DCVoltage, Send: "MEASure:VOLTage:DC?",
			Accuracy: device.Accuracy{PercentOfReading: 0.015, PercentOfRange: 0.004, Range: 10}}}}
	scope := device.CommandSet{Name: "scope", Line: line, Identify: "*IDN?",
		Prepare: []string{"*CLS", "CHANnel1:SCALe 0.15;:CHANnel1:OFFSet 0.35", "TRIGger:SWEep AUTO"},
		Asks:    []device.Ask{{Measure: device.PeakToPeak, Send: "MEASure:VOLTage:PTPeak? (@{channel})"}},
		Capture: &device.CaptureAsk{
			Arm: []string{"SWEep:TIME 1E-3", "SWEep:POINts 50000", "TRIGger:SOURce CHANnel{channel}", "TRIGger:SLOPe NEGative",
				"TRIGger:LEVel -0.15", "RECord:SOURce CHANnel{channel}", "RECord:FORMat BYTE", "RECord:SIGNed OFF", "SINGle"},
			Done: "*OPC?", DoneIs: "1", DoneWithin: 5 * time.Second,
			Preamble: []device.PreambleAsk{{Gives: "x-increment", Send: "RECord:XINCrement?"}, {Gives: "y-increment", Send: "RECord:YINCrement?"},
				{Gives: "y-origin", Send: "RECord:YORigin?"}, {Gives: "y-reference", Send: "RECord:YREFerence?"}},
			Data: "RECord:DATA?", Encoding: "uint8", CouplingAsk: "CHANnel{channel}:COUPling?", HighCode: 255}}
	thermometer := device.CommandSet{Name: "thermometer", Line: line, Listen: &device.Listen{
		Pattern: `^\s*(?P<value>[-+]?\d+\.\d+)\s*C$`, Measure: device.Temperature, SilentAfter: 2 * time.Second,
		Accuracy: device.Accuracy{Resolution: 0.5}}}
	thermometer.Line.SendEnding = "crlf"
	return logger.Settings{Bench: "pier-end", Book: filepath.Join(dir, "test.book"), CommitEvery: 50 * time.Millisecond,
		Sheets: []checks.Sheet{simulatedSheet()},
		Instruments: []logger.InstrumentSettings{{Name: "meter", Port: ports["meter"], Commands: meter},
			{Name: "scope", Port: ports["scope"], Commands: scope}, {Name: "thermometer", Port: ports["thermometer"], Commands: thermometer}},
		Places: []logger.Place{{Name: "left", Connections: []logger.Connection{{TestPoint: "rail-5v", Instrument: "meter", Channel: "101"},
			{TestPoint: "composite", Instrument: "scope", Channel: "1"}, {TestPoint: "case", Instrument: "thermometer"}}}}}
}

// simulatedSheet is a sheet with a test point for each way that readings come.
func simulatedSheet() checks.Sheet {
	check := func(m device.Measure, low, nominal, high float64) checks.Check {
		return checks.Check{Measure: m, Every: 200 * time.Millisecond, FreshFor: 3 * time.Second, Hold: time.Second,
			Limit: checks.Limit{Low: low, High: high, Nominal: nominal, Source: "for the test", Guard: checks.GuardBand{Rule: checks.Simple}}}
	}
	nan, inf := math.NaN(), math.Inf(1)
	return checks.Sheet{Name: "brambling-8", Console: "Brambling 8", VideoSystem: "625/50", Hash: book.HashSheet([]byte(sheetText)),
		Soak: checks.SoakPlan{Duration: time.Minute, EvidenceAtLeast: 0.9, LongestGap: 10 * time.Second},
		TestPoints: []checks.TestPoint{
			{Name: "rail-5v", Connect: "meter at the regulator", Caution: "Stored charge.", Checks: []checks.Check{check(device.DCVoltage, 4.75, 5, 5.25)}},
			{Name: "composite", Checks: []checks.Check{check(device.LumaPeakToPeak, 0.95, 1, 1.05), check(device.PeakToPeak, -inf, nan, 1.413),
				check(device.Overshoot, -inf, nan, 0.04)}},
			{Name: "case", Checks: []checks.Check{check(device.Temperature, -inf, nan, 60)}},
		},
		Trial: []checks.Criterion{{Measure: device.Overshoot, Aim: checks.AtMost, Bound: 0.03},
			{Measure: device.LumaPeakToPeak, Aim: checks.NearestNominal}, {Measure: device.Bandwidth, Aim: checks.Most}}}
}

// takeRound takes a whole round and returns it as the book holds it, with what was
// said at each test point.
func (s simulated) takeRound(t *testing.T, request logger.RoundRequest) (book.Round, map[checks.TestPointName]logger.PointReport) {
	t.Helper()
	request.Unit = "B8-0147"
	plan, err := s.PlanRound(t.Context(), request.Unit, "")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.BeginRound(t.Context(), plan, request); err != nil {
		t.Fatal(err)
	}
	reports := map[checks.TestPointName]logger.PointReport{}
	for _, step := range plan.Steps {
		report, err := s.ReadPoint(t.Context(), request.Unit, request.Label, plan.Place, step.Point.Name)
		if err != nil {
			t.Fatal(err)
		}
		reports[step.Point.Name] = report
	}
	if err := s.EndRound(t.Context(), request.Unit, request.Label); err != nil {
		t.Fatal(err)
	}
	round, err := s.Book().Round(t.Context(), request.Unit, request.Label)
	if err != nil {
		t.Fatal(err)
	}
	return round, reports
}

// fault changes the simulated console or an instrument.
func (s simulated) fault(t *testing.T, target, name string, args ...string) {
	t.Helper()
	if err := s.sim.Fault(target, name, args...); err != nil {
		t.Fatal(err)
	}
}
