package logger_test

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"soakline/checks"
	"soakline/device"
	"soakline/logger"
	"soakline/logger/book"
)

// withAudio wires both audio outputs of the simulated console to the scope.
func withAudio(s *logger.Settings) {
	scope := &s.Instruments[1].Commands
	scope.Prepare = append(slices.Clone(scope.Prepare), "CHANnel5:SCALe 0.15;:CHANnel6:SCALe 0.15")
	how := *scope.Capture
	how.Arm = []string{"SWEep:TIME 0.4", "SWEep:POINts 40000", "TRIGger:SOURce NONE", "RECord:SOURce CHANnel{channel}",
		"RECord:FORMat BYTE", "RECord:SIGNed OFF", "SINGle"}
	how.Beside = []string{"RECord:SOURce CHANnel{channel}"}
	scope.AudioCapture = &how
	s.Places[0].Connections = append(s.Places[0].Connections,
		logger.Connection{TestPoint: "audio-left", Instrument: "scope", Channel: "5"},
		logger.Connection{TestPoint: "audio-right", Instrument: "scope", Channel: "6"})
	check := func(m device.Measure, low, nominal, high float64) checks.Check {
		return checks.Check{Measure: m, Every: time.Second, FreshFor: 5 * time.Second, Hold: time.Second,
			Limit: checks.Limit{Low: low, High: high, Nominal: nominal, Source: "for the test", Guard: checks.GuardBand{Rule: checks.Simple}}}
	}
	inf, nan := math.Inf(1), math.NaN()
	s.Sheets[0].TestPoints = append(s.Sheets[0].TestPoints,
		checks.TestPoint{Name: "audio-left", Audio: &checks.AudioPlan{ToneHertz: 1000, MainsHertz: 50, Beside: "audio-right", AlikeAtLeast: 0.9},
			Checks: []checks.Check{check(device.ACVoltage, 0.1, 0.316, 1), check(device.ChannelBalance, 0.891, 1, 1.122), check(device.Hum, -inf, nan, 0.00316),
				check(device.HarmonicDistortion, -inf, nan, 0.02), check(device.Click, -inf, nan, 0.1), check(device.Dropout, -inf, nan, 0.001)}},
		checks.TestPoint{Name: "audio-right", Audio: &checks.AudioPlan{ToneHertz: 1000, MainsHertz: 50}, Checks: []checks.Check{check(device.ACVoltage, 0.1, 0.316, 1)}})
}

func codesOf(report logger.PointReport) string {
	var codes []string
	for _, f := range report.Findings {
		codes = append(codes, string(f.Code))
	}
	return strings.Join(codes, " ")
}

// TestRoundsOfAudio takes rounds of a simulated console that plays a tone of 0.316 V
// on the left and 0.309 V on the right with 0.2 mV of hum, and changes it by known
// amounts. Distortion is sqrt(0.4^2 + 0.2^2) % by the arithmetic of A-28.
func TestRoundsOfAudio(t *testing.T) {
	t.Parallel()
	s := newSimulated(t, withAudio)
	before, reports := s.takeRound(t, logger.RoundRequest{Label: "as received", Candidate: math.NaN()})
	figure := func(round book.Round, point checks.TestPointName, m device.Measure) float64 {
		for _, r := range round.Readings {
			if r.TestPoint == point && r.Measure == m {
				return r.Value
			}
		}
		return math.NaN()
	}
	for _, row := range []struct {
		point           checks.TestPointName
		measure         device.Measure
		want, tolerance float64
		source          string
	}{
		{"audio-left", device.ACVoltage, 0.316, 0.0018, "0.05 dB (A-10)"},
		{"audio-right", device.ACVoltage, 0.309, 0.0018, "0.05 dB (A-10)"},
		{"audio-left", device.ChannelBalance, 0.316 / 0.309, 0.006, "A-26, 0.05 dB"},
		{"audio-left", device.Hum, 0.2e-3, 0.08e-3, "the simulated console's own; four times the uncertainty that a step of 5.9 mV leaves"},
		{"audio-left", device.HarmonicDistortion, 0.0044721, 0.0015, "A-28; 8 bits add harmonics of their own"},
		{"audio-left", device.Frequency, 1000, 0.1, "the simulated console's own"},
		{"audio-left", device.Dropout, 0, 0, "none"},
		{"audio-left", device.Click, 0, 0, "none"},
	} {
		if got := figure(before, row.point, row.measure); !(math.Abs(got-row.want) <= row.tolerance) {
			t.Errorf("%s %s: %g, want %g (%s)", row.point, row.measure, got, row.want, row.source)
		}
	}
	if got := figure(before, "audio-right", device.ChannelBalance); !math.IsNaN(got) {
		t.Errorf("a channel alone has a balance of %g", got)
	}
	if found := codesOf(reports["audio-left"]); strings.Contains(found, "hum") || strings.Contains(found, "unbalanced") {
		t.Errorf("findings %q in a good console", found)
	}

	s.fault(t, "B8-0147", "hum", "audio-left", "0.02") // 7.07 mV rms
	s.fault(t, "B8-0147", "hot", "audio-right", "0.5") // 6.02 dB down
	s.fault(t, "B8-0147", "mute", "audio-left", "0.1") // 4 times 25 ms in 0.4 s
	after, reports := s.takeRound(t, logger.RoundRequest{Label: "lead changed", Candidate: math.NaN()})
	if got := figure(after, "audio-left", device.Dropout); math.Abs(got-0.1) > 0.01 {
		t.Errorf("without the tone for %g s, want four times 25 ms", got)
	}
	for _, code := range []string{"hum", "unbalanced", "dropouts"} {
		if found := codesOf(reports["audio-left"]); !strings.Contains(found, code) {
			t.Errorf("findings %q, want %s among them", found, code)
		}
	}
	c := logger.Compare(s.sheet, before, after)
	if err := c.CompareAudio(t.Context(), s.Book(), s.sheet); err != nil {
		t.Fatal(err)
	}
	seen := map[string]float64{}
	for _, change := range c.Audio {
		seen[change.Channel+" "+change.Name] = change.Decibels.Value
		if change.Channel == "audio-right" && change.Name == "level" && (!change.Matters || !strings.Contains(change.Text, "this can be heard")) {
			t.Errorf("%+v", change)
		}
	}
	if got := seen["audio-right level"]; math.Abs(got+6.0206) > 0.05 {
		t.Errorf("the right channel changed by %.2f dB, want -6.02 dB (A-22)", got)
	}
	if got, want := seen["audio-left hum"], 20*math.Log10(7.0711e-3/0.2e-3); math.Abs(got-want) > 5 { // 0.2 mV before is known to 0.08 mV
		t.Errorf("hum changed by %.2f dB, want %.2f dB", got, want)
	}
}

// TestSoakWatchesAudio: the records that a soak takes are judged like any reading. A
// tone that is mute once in a while, too short for its level to tell, is an excursion
// of the dropout at the point.
func TestSoakWatchesAudio(t *testing.T) {
	t.Parallel()
	s := newSimulated(t, withAudio)
	if _, err := s.BeginSoak(t.Context(), logger.SoakRequest{Unit: "B8-0147"}); err != nil {
		t.Fatal(err)
	}
	dropout := checks.CheckKey{TestPoint: "audio-left", Measure: device.Dropout}
	s.awaitState(t, dropout, checks.Within)
	s.fault(t, "B8-0147", "mute", "audio-left", "0.1")
	s.awaitState(t, dropout, checks.Outside)
	s.fault(t, "B8-0147", "clear")
	s.awaitState(t, dropout, checks.Within)
	snapshot, err := s.Snapshot(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, check := range snapshot.Soaks[0].Checks {
		if audio := check.Check.TestPoint == "audio-left" || check.Check.TestPoint == "audio-right"; audio && check.Value == 0 && check.Check.Measure == device.ACVoltage {
			t.Errorf("%s has no figure", check.Check)
		}
	}
}

// awaitState waits until a check of the only soak is in a state.
func (s simulated) awaitState(t *testing.T, check checks.CheckKey, want checks.State) {
	t.Helper()
	var last checks.State
	for deadline := time.Now().Add(30 * time.Second); time.Now().Before(deadline); {
		snapshot, err := s.Snapshot(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range snapshot.Soaks[0].Checks {
			if c.Check == check {
				last = c.State
			}
		}
		if last == want {
			return
		}
		<-time.After(20 * time.Millisecond)
	}
	t.Fatalf("%s is %s, want %s within 30 s", check, last, want)
}
