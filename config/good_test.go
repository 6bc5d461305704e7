package config

import (
	"math"
	"os"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"soakline/checks"
	"soakline/device"
	"soakline/logger"
	"soakline/logger/notify"
	"soakline/logger/ship"
)

func readGood(t *testing.T, name string) []byte {
	t.Helper()
	text, err := os.ReadFile("testdata/good/" + name)
	if err != nil {
		t.Fatal(err)
	}
	return text
}

// The expected values are the file's own, read by a person, and the defaults that
// the shipped sheets state.
func TestSheetWithEveryKey(t *testing.T) {
	got, err := ParseSheet("everything.yaml", readGood(t, "everything.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	inf, nan := math.Inf(1), math.NaN()
	guarded := checks.GuardBand{Rule: checks.GuardBanded, Ratio: 1}
	want := checks.Sheet{
		Name: "everything", Console: "Corncrake II", VideoSystem: "525/60",
		Soak: checks.SoakPlan{Duration: 8 * time.Hour, EvidenceAtLeast: 0.995, LongestGap: 90 * time.Second, RemindEvery: 20 * time.Minute},
		// sha256sum testdata/good/everything.yaml (coreutils)
		Hash: "1ea4f3f64edc815f75dfdbc1e8a41a962d3916ef8ccac5643d5ebeae5f43515f",
		Trial: []checks.Criterion{
			{TestPoint: "rail-5v", Measure: device.DCVoltage, Aim: checks.NearestNominal},
			{Measure: device.Overshoot, Aim: checks.AtMost, Bound: 0.03},
			{Measure: device.Bandwidth, Aim: checks.Most},
		},
		Final: checks.FinalPlan{Decision: checks.FinalDecision{Rule: checks.SharedRisk, UncertaintyAtMost: 0.2}, AgainAtMost: 1, Steps: []checks.FinalStep{
			{Name: "soaked", Kind: checks.StepSoak, About: "the long run", Soak: checks.SoakCondition{AtLeast: 6 * time.Hour, NotOlder: 48 * time.Hour}},
			{Name: "warm", Kind: checks.StepWait, Wait: 90 * time.Second, Connect: "the mains adaptor", Caution: "Hot parts."},
			{Name: "shield", Kind: checks.StepMeasure, TestPoint: "ground", Repeats: 1, After: []checks.StepName{"soaked"}},
			{
				Name: "rail", Kind: checks.StepMeasure, TestPoint: "rail-5v", Measures: []device.Measure{device.DCVoltage}, Repeats: 3,
				Settling: checks.StepSettling{Measure: device.DCVoltage, Spread: 0.004, For: 3 * time.Second, Within: 40 * time.Second},
				Causes:   []string{"a loose clip"}, CausesLow: []string{"regulator worn"}, CausesHigh: []string{"ground lead open", "regulator bridged"},
			},
			{Name: "buttons", Kind: checks.StepQuestion, Question: "Does every button answer?", Sense: checks.Press, PassesWith: checks.Yes, Causes: []string{"carbon worn off"}},
			{Name: "hiss", Kind: checks.StepQuestion, Question: "Is there a hiss?", Sense: checks.Listen, PassesWith: checks.No},
			{Name: "empty", Kind: checks.StepDischarge, TestPoint: "ground", After: []checks.StepName{"rail", "buttons"}},
		}},
		TestPoints: []checks.TestPoint{
			{Name: "ground", About: "signal ground", Connect: "meter at the shield", Caution: "Stored charge.", Discharge: &checks.DischargePlan{BelowVolts: 2.5, WatchFor: 90 * time.Second, LoadOhms: 470, CapacitanceFarads: 2200e-6, ExpectedTau: 1100 * time.Millisecond}, Wear: &checks.WearPlan{
				Capacitance: &checks.WearLimit{Limit: 1760e-6, OfFirst: 0.8, PerCelsius: 0.002},
				ESR:         &checks.WearLimit{At: "rail-5v", Limit: 0.25, OfFirst: 2, PerCelsius: nan},
				Leakage:     &checks.WearLimit{Limit: 1e-3, PerCelsius: nan},
				Source:      "W-60", Thermometer: "rail-5v", ReferenceCelsius: 30,
			}, Checks: []checks.Check{{
				Measure: device.DCVoltage, Every: time.Second, FreshFor: 3 * time.Second, Hold: 2 * time.Second, Settle: 5 * time.Second,
				Limit: checks.Limit{Low: -inf, High: 0.1, Nominal: nan, Source: "common practice, no source", Guard: guarded},
				Drift: &checks.DriftPlan{WarmUp: 20 * time.Minute, Baseline: 40 * time.Minute, SmallestShift: 0.003},
			}}},
			{Name: "rail-5v", Checks: []checks.Check{
				{
					Measure: device.DCVoltage, Every: 500 * time.Millisecond, FreshFor: 4 * time.Second, Hold: 3 * time.Second,
					Settle: time.Minute, Hysteresis: 0.02,
					Limit:   checks.Limit{Low: -0.25, High: 0.25, Source: "W-02", Guard: checks.GuardBand{Rule: checks.Simple, Ratio: 0.5, Width: 0.01}},
					Against: checks.Reference{TestPoint: "ground", Measure: device.DCVoltage},
				}, {
					Measure: device.Overshoot, FreshFor: 2 * time.Second, Hold: 2 * time.Second, Settle: 5 * time.Second,
					Limit:   checks.Limit{High: 0.04, Nominal: nan, Source: "W-02", Guard: guarded},
					Against: checks.Reference{Baseline: true, BaselineFor: 45 * time.Second},
				}, {
					Measure: device.Temperature, Every: time.Minute, FreshFor: 3 * time.Minute, Hold: 2 * time.Second, Settle: 5 * time.Second,
					Limit:   checks.Limit{Low: -inf, High: 70, Nominal: nan, Source: "W-02", Guard: guarded},
					Against: checks.Reference{Baseline: true, BaselineFor: 30 * time.Second},
				},
			}},
			{Name: "audio-left", Audio: &checks.AudioPlan{ToneHertz: 1000, MainsHertz: 60, Beside: "audio-right", AlikeAtLeast: 0.8}, Checks: []checks.Check{{
				Measure: device.ChannelBalance, Every: time.Second, FreshFor: 3 * time.Second, Hold: 2 * time.Second, Settle: 5 * time.Second,
				Limit: checks.Limit{Low: 0.89, High: 1.12, Nominal: 1, Source: "A-27", Guard: guarded},
			}}},
			{Name: "audio-right", Audio: &checks.AudioPlan{}, Checks: []checks.Check{{
				Measure: device.Hum, Every: time.Second, FreshFor: 3 * time.Second, Hold: 2 * time.Second, Settle: 5 * time.Second,
				Limit: checks.Limit{Low: -inf, High: 0.001, Nominal: nan, Source: "common practice, no source", Guard: guarded},
			}}},
			{Name: "ripple", Reservoir: &checks.ReservoirPlan{MainsHertz: 60, HalfWave: true, LoadAmperes: 0.4, LoadTolerance: 0.05}, Checks: []checks.Check{{
				Measure: device.Capacitance, Every: time.Second, FreshFor: 3 * time.Second, Hold: 2 * time.Second, Settle: 5 * time.Second,
				Limit: checks.Limit{Low: 1760e-6, High: inf, Nominal: nan, Source: "W-60", Guard: guarded},
			}}},
			{Name: "second-ripple", Reservoir: &checks.ReservoirPlan{MainsHertz: 60, LoadAt: "supply"}, Checks: []checks.Check{{
				Measure: device.SeriesResistance, Every: time.Second, FreshFor: 3 * time.Second, Hold: 2 * time.Second, Settle: 5 * time.Second,
				Limit: checks.Limit{Low: -inf, High: 0.3, Nominal: nan, Source: "W-60", Guard: guarded},
			}}},
			{Name: "supply", Checks: []checks.Check{{
				Measure: device.DCCurrent, Every: time.Second, FreshFor: 3 * time.Second, Hold: 2 * time.Second, Settle: 5 * time.Second,
				Limit: checks.Limit{Low: -inf, High: 1, Nominal: nan, Source: "common practice, no source", Guard: guarded},
			}}},
		},
	}
	if diff := cmp.Diff(want, got, cmpopts.EquateNaNs()); diff != "" {
		t.Errorf("sheet (-want +got):\n%s", diff)
	}
}

func TestCommandSetWithEveryKey(t *testing.T) {
	got, err := ParseCommandSet("set.yaml", readGood(t, "set.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	want := device.CommandSet{
		Name: "everything", About: "nothing real",
		Line: device.LineSettings{
			Baud: 115200, DataBits: 7, Parity: "even", StopBits: "1.5", Flow: "rts-cts", SendEnding: "crlf",
		},
		Identify: "*IDN?", IdentifyPattern: "^Saltmarsh",
		Prepare: []string{"*RST", "*CLS"}, Release: []string{"SYSTem:LOCal"},
		Select: "ROUTe:CLOSe (@{channel})", SelectSettle: 50 * time.Millisecond,
		Asks: []device.Ask{{
			Measure: device.Capacitance, Send: "CAP? {channel}", Field: 2, ScalePower: -6, Suffix: "UF", Timeout: 3 * time.Second,
			Accuracy: device.Accuracy{PercentOfReading: 1, PercentOfRange: 0.1, Range: 1e-3, Resolution: 1e-9},
		}},
		ErrorCheck: device.ErrorCheck{Send: "SYSTem:ERRor?", Every: 10 * time.Second},
		Listen: &device.Listen{
			Pattern: `(?P<measure>\w+) (?P<value>\S+) (?P<unit>\w+)`, Measure: device.DCVoltage,
			Words: map[string]device.Measure{"ACV": device.ACVoltage}, Prefixes: map[string]int{"mV": -3},
			SilentAfter: 4 * time.Second, Accuracy: device.Accuracy{Resolution: 0.001},
		},
		Capture: &device.CaptureAsk{
			Arm: []string{"SINGle"}, Done: "*OPC?", DoneIs: "1", DoneWithin: 2 * time.Second,
			Preamble: []device.PreambleAsk{
				{Gives: "x-increment", Send: "PRE?", Field: 1}, {Gives: "y-increment", Send: "PRE?", Field: 3},
			},
			Data: "DATA? {channel}", Encoding: "int16", LowByteFirst: true, Timeout: 20 * time.Second,
			CouplingAsk: "COUPling?", LowCode: -32768, HighCode: 32767,
		},
		AudioCapture: &device.CaptureAsk{Arm: []string{"SINGle"}, Preamble: []device.PreambleAsk{{Gives: "x-increment", Send: "PRE?"}},
			Data: "DATA? {channel}", Encoding: "ascii", Beside: []string{"SOURce {channel}"}},
		RippleCapture: &device.CaptureAsk{Arm: []string{"SINGle"}, Preamble: []device.PreambleAsk{{Gives: "x-increment", Send: "PRE?"}},
			Data: "DATA? {channel}", Encoding: "ascii", Coupling: "dc"},
		Output: &device.OutputSwitch{On: "OUTPut ON", Off: "OUTPut OFF", Ask: "OUTPut?", OnIs: "ON", OffIs: "OFF"},
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("command set (-want +got):\n%s", diff)
	}
}

func TestBenchWithEveryKey(t *testing.T) {
	b, err := Load("testdata/good/bench.yaml", nil)
	if err != nil {
		t.Fatal(err)
	}
	if b.Bench != "pier" || b.Book != "testdata/good/books/pier.book" || b.CommitEvery != 250*time.Millisecond ||
		b.TimeStep != time.Millisecond || b.Waiting != 20000 || b.ThinAfter != 90*24*time.Hour || b.Listen != "[::1]:9000" || b.Token != "pier-token" {
		t.Errorf("scalars: %+v", b.Settings)
	}
	if len(b.Loaded) != 2 || string(b.Loaded[1].Source) != string(readGood(t, "everything.yaml")) || b.Loaded[1].Hash != b.Sheets[1].Hash {
		t.Errorf("the second sheet's text is not the file's")
	}
	if in := b.Instruments[0]; !in.Calibrated.Equal(time.Date(2025, 4, 1, 0, 0, 0, 0, time.UTC)) ||
		!in.CalibrationDue.Equal(time.Date(2026, 3, 31, 0, 0, 0, 0, time.UTC)) || !b.Instruments[1].CalibrationDue.IsZero() {
		t.Errorf("calibration: %v to %v", in.Calibrated, in.CalibrationDue)
	}
	wantPlaces := []logger.Place{{Name: "left", Connections: []logger.Connection{{TestPoint: "ground", Instrument: "meter", Channel: "101"}}}}
	if diff := cmp.Diff(wantPlaces, b.Places); diff != "" {
		t.Errorf("places (-want +got):\n%s", diff)
	}
	meter, other, talker := b.Instruments[0], b.Instruments[1], b.Instruments[2]
	if meter.Commands.Line.Baud != 115200 || other.Commands.Line.Baud != 9600 {
		t.Errorf("the line override reached %d and %d baud, want 115200 and 9600", meter.Commands.Line.Baud, other.Commands.Line.Baud)
	}
	want := device.Accuracy{PercentOfReading: 0.015, PercentOfRange: 0.004, Range: 10}
	if got := meter.Commands.Asks[0].Accuracy; got != want || other.Commands.Asks[0].Accuracy != (device.Accuracy{}) {
		t.Errorf("the accuracy override reached %+v and %+v", got, other.Commands.Asks[0].Accuracy)
	}
	if talker.Commands.Listen.Accuracy.Resolution != 0.01 {
		t.Errorf("the talker's accuracy is %+v", talker.Commands.Listen.Accuracy)
	}
	wantShip := []ship.Target{
		{Name: "plain", URL: "http://127.0.0.1:8428/write", Scheme: ship.Token, Every: time.Second, BatchLines: 5000,
			Timeout: 30 * time.Second, Resend: 15 * time.Second},
		{Name: "all", URL: "https://store.example/api/v2/write?org=library&bucket=benches&precision=ns", Scheme: ship.Bearer,
			Secret: "pier-token", CA: readGood(t, "ca.pem"), Every: 2 * time.Second, BatchLines: 1000, BytesPerSecond: 20000, Timeout: 10 * time.Second},
	}
	if diff := cmp.Diff(wantShip, b.Ship); diff != "" {
		t.Errorf("ship (-want +got):\n%s", diff)
	}
	wantNotify := notify.Settings{DiskLowBytes: 200e6, Targets: []notify.Target{
		{Name: "workshop", Webhook: &notify.Webhook{URL: "https://hook.example/bench", Key: []byte("pier-token"), KeyID: "pier", CA: readGood(t, "ca.pem")},
			Quiet: &notify.Quiet{From: 22 * time.Hour, To: 6*time.Hour + 30*time.Minute}},
		{Name: "lamp", Tell: []notify.Kind{notify.Excursion, notify.Verdict}, Command: []string{"lamp", "red"}},
		{Name: "office", Mail: &notify.Mail{Server: "mail.example:465", Security: "tls", User: "bench", Password: "pier-token",
			From: "bench@pier.example", To: []string{"office@pier.example"}}},
	}}
	if diff := cmp.Diff(wantNotify, b.Notify); diff != "" {
		t.Errorf("notify (-want +got):\n%s", diff)
	}
	if b.TLS == nil || len(b.TLS.Certificate) != 1 {
		t.Errorf("certificate %v", b.TLS)
	}
	if want := (Discovery{File: "testdata/good/found/pier.json", Address: "pier.example:9000"}); b.Discovery != want {
		t.Errorf("discovery %+v, want %+v", b.Discovery, want)
	}
}
