package page_test

import (
	"context"
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

// startSimulated runs a bench on simulated instruments behind real ports, and its
// server.
func startSimulated(t testing.TB) *live {
	t.Helper()
	dir := t.TempDir()
	sim, err := simbench.New(simbench.DemoConfig(dir))
	if err != nil {
		t.Fatal(err)
	}
	stop := background(context.WithoutCancel(t.Context()), sim.Run)
	t.Cleanup(func() {
		if err := stop(); err != nil {
			t.Error(err)
		}
	})
	<-sim.Ready()
	settings := logger.Settings{Bench: "pier-end", Book: filepath.Join(dir, "sim.book"), CommitEvery: 20 * time.Millisecond,
		Sheets: []checks.Sheet{simulatedSheet()}, Instruments: simulatedInstruments(sim.Ports()),
		Places: []logger.Place{{Name: "left", Connections: []logger.Connection{{TestPoint: "rail-5v", Instrument: "meter", Channel: "101"},
			{TestPoint: "composite", Instrument: "scope", Channel: "1"}}}}}
	return startBench(t, settings, simulatedSheet())
}

func simulatedInstruments(ports map[string]string) []logger.InstrumentSettings {
	line := device.LineSettings{Baud: 115200, DataBits: 8, Parity: "none", StopBits: "1", Flow: "none", SendEnding: "lf"}
	meter := device.CommandSet{Name: "meter", Line: line, Identify: "*IDN?", Prepare: []string{"*CLS"}, Select: "ROUTe:CLOSe (@{channel})",
		Asks: []device.Ask{{Measure: device.DCVoltage, Send: "MEASure:VOLTage:DC?",
			Accuracy: device.Accuracy{PercentOfReading: 0.015, PercentOfRange: 0.004, Range: 10}}}}
	scope := device.CommandSet{Name: "scope", Line: line, Identify: "*IDN?",
		Prepare: []string{"*CLS", "CHANnel1:SCALe 0.15;:CHANnel1:OFFSet 0.35", "TRIGger:SWEep AUTO"},
		Capture: &device.CaptureAsk{
			Arm: []string{"SWEep:TIME 1E-3", "SWEep:POINts 50000", "TRIGger:SOURce CHANnel{channel}", "TRIGger:SLOPe NEGative",
				"TRIGger:LEVel -0.15", "RECord:SOURce CHANnel{channel}", "RECord:FORMat BYTE", "RECord:SIGNed OFF", "SINGle"},
			Done: "*OPC?", DoneIs: "1", DoneWithin: 5 * time.Second,
			Preamble: []device.PreambleAsk{{Gives: "x-increment", Send: "RECord:XINCrement?"}, {Gives: "y-increment", Send: "RECord:YINCrement?"},
				{Gives: "y-origin", Send: "RECord:YORigin?"}, {Gives: "y-reference", Send: "RECord:YREFerence?"}},
			Data: "RECord:DATA?", Encoding: "uint8", CouplingAsk: "CHANnel{channel}:COUPling?", HighCode: 255}}
	return []logger.InstrumentSettings{{Name: "meter", Port: ports["meter"], Commands: meter}, {Name: "scope", Port: ports["scope"], Commands: scope}}
}

// simulatedSheet has a rail that can be watched down and a composite output; its
// limits are invented.
func simulatedSheet() checks.Sheet {
	check := func(m device.Measure, low, nominal, high float64) checks.Check {
		return checks.Check{Measure: m, Every: 200 * time.Millisecond, FreshFor: 10 * time.Second, Hold: time.Second,
			Limit: checks.Limit{Low: low, High: high, Nominal: nominal, Source: "for the test", Guard: checks.GuardBand{Rule: checks.GuardBanded, Ratio: 1}}}
	}
	return checks.Sheet{Name: "brambling-8", Console: "Brambling 8", VideoSystem: "625/50", Hash: book.HashSheet([]byte(sheetText)),
		Soak: checks.SoakPlan{Duration: time.Hour, EvidenceAtLeast: 0.9, LongestGap: 10 * time.Second},
		TestPoints: []checks.TestPoint{
			{Name: "rail-5v", Checks: []checks.Check{check(device.DCVoltage, 4.75, 5, 5.25)}, Discharge: &checks.DischargePlan{BelowVolts: 10, WatchFor: time.Minute}},
			{Name: "composite", Checks: []checks.Check{check(device.LumaPeakToPeak, 0.95, 1, 1.05), check(device.PeakToPeak, math.Inf(-1), math.NaN(), 1.413)}},
		},
		Final: checks.FinalPlan{Steps: []checks.FinalStep{
			{Name: "picture", Kind: checks.StepQuestion, Sense: checks.Look, Question: "Is the picture steady?", PassesWith: checks.Yes},
			{Name: "sound", Kind: checks.StepQuestion, Sense: checks.Listen, Question: "Does it hum?", PassesWith: checks.No}}},
		Trial: []checks.Criterion{{Measure: device.LumaPeakToPeak, Aim: checks.NearestNominal}}}
}
