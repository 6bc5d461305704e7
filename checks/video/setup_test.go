package video_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"soakline/checks"
	"soakline/checks/video"
)

// wide is a scene whose range holds twice nominal and half of it.
func wide(d standard, picture func(int) []patch) scene {
	s := base(d, picture)
	s.low, s.high, s.noise = -0.9, 2.1, 0.005
	return s
}

// Source and load: V = E R/(R + 75), V-70 to V-76. The ratio to nominal is the gain.
func TestTerminations(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		id    string
		ratio float64
		codes []string
	}{
		{"V-70 75 ohm", 1, nil},
		{"V-71 open", 2.0, []string{"looks-unterminated", "level-high"}},
		{"V-71 1 Mohm", 1.99985, []string{"looks-unterminated", "level-high"}},
		{"V-72 two loads", 0.66667, []string{"looks-double-terminated", "level-low", "sync-low", "burst-low"}},
		{"V-73 50 ohm", 0.8, []string{"level-low"}},
		{"V-74 75 ohm + 1 %", 1.00498, nil},
		{"V-75 75 ohm - 5 %", 0.97436, nil},
		{"V-76 68 ohm", 0.95105, nil},
		{"V-76 82 ohm", 1.04459, nil},
		{"V-76 100 ohm", 1.14286, []string{"level-high"}},
		{"1.95 of nominal", 1.95, []string{"looks-unterminated", "level-high"}},
		{"1.62 of nominal", 1.62, []string{"looks-unterminated", "level-high"}},
		{"1.55 of nominal", 1.55, []string{"level-high"}},
		{"0.60 of nominal", 0.60, []string{"level-low", "sync-low", "burst-low"}},
		{"0.74 of nominal", 0.74, []string{"level-low", "sync-low"}},
	} {
		for _, d := range []standard{std625(), std525()} {
			for name, picture := range map[string]func(int) []patch{
				"white": white, "bars": bars(1, 0.75, d.white-d.setup), "dark": dark,
			} {
				s := wide(d, picture)
				s.gain = row.ratio
				r := analyse(t, s, video.Options{})
				have := codesOf(r)
				for _, code := range []string{"looks-unterminated", "looks-double-terminated", "level-high", "level-low"} {
					if want := strings.Contains(strings.Join(row.codes, " "), code); have[code] != want {
						t.Errorf("%s, %s %s: finding %s is %v (level %.3f, %v)", row.id, d.name, name, code, have[code], r.LevelShare.Value, have)
					}
				}
				shown := checks.Shown(r.Findings)
				for _, f := range shown {
					if strings.HasPrefix(string(f.Code), "level-") && (have["looks-unterminated"] || have["looks-double-terminated"]) {
						t.Errorf("%s: %s is shown beside what explains it", row.id, f.Code)
					}
				}
			}
		}
	}
}

// A picture's whole peak-to-peak goes beyond 1 V where colour does: 625/50 100 % bars
// reach 133 % of white (V-09). That is no hot level.
func TestColourBarsAreNotHot(t *testing.T) {
	for _, d := range []standard{std625(), std525()} {
		for _, a := range []float64{0.75, 1} {
			s := wide(d, bars(1, a, d.white-d.setup))
			r := analyse(t, s, video.Options{})
			name := fmt.Sprintf("%s bars %g", d.name, a)
			near(t, name+" luma", r.LumaPeakToPeakVolts, 1, 0.01, "V-01")
			if a == 1 && r.PeakToPeakVolts.Value < 1.2 {
				t.Errorf("%s: whole peak-to-peak %g, want above 1.2 V (V-09)", name, r.PeakToPeakVolts.Value)
			}
			wantCodes(t, r, name)
		}
	}
}

func TestHotLevelShowsTheScaledExpectation(t *testing.T) {
	s := wide(std625(), windowPicture)
	s.gain = 1.2
	r := analyse(t, s, video.Options{})
	wantCodes(t, r, "20 % hot", "level-high")
	near(t, "expected black to white", video.Measured{Value: r.ExpectedBlackToWhiteVolts}, 0.84, 0.008, "1.2 x 700 mV")
	f := r.Findings[0]
	for _, part := range []string{"20 % high", "0.84 V", "nominal 1 V"} {
		if !strings.Contains(f.Text, part) {
			t.Errorf("text %q lacks %q", f.Text, part)
		}
	}
	if !strings.Contains(f.Advice, "receiver") {
		t.Errorf("advice %q does not think of the receiver", f.Advice)
	}
}

func TestWrongProbeFactor(t *testing.T) {
	for _, row := range []struct {
		gain float64
		word string
	}{{10, "ten times"}, {0.1, "a tenth"}} {
		s := wide(std625(), white)
		s.gain, s.low, s.high, s.noise = row.gain, -0.9*row.gain*2, 2.1*row.gain, 0.005*row.gain
		r := analyse(t, s, video.Options{})
		var level string
		for _, f := range r.Findings {
			if strings.HasPrefix(string(f.Code), "level-") {
				level = f.Advice
			}
		}
		if !strings.Contains(level, row.word) || !strings.Contains(level, "probe") {
			t.Errorf("gain %g: advice %q does not name the probe", row.gain, level)
		}
		if have := codesOf(r); have["looks-unterminated"] || have["looks-double-terminated"] {
			t.Errorf("gain %g: termination is blamed: %v", row.gain, have)
		}
	}
}

// 525/60 black sits 53.6 mV above blanking (V-04), which is no offset; a real offset
// is one at any coupling but AC.
func TestOffsetAndCoupling(t *testing.T) {
	s := wide(std525(), black)
	r := analyse(t, s, video.Options{})
	near(t, "black", r.BlackVolts, 0.0536, 0.01, "V-04")
	wantCodes(t, r, "set-up")

	s = wide(std625(), windowPicture)
	s.offset = 0.2
	r = analyse(t, s, video.Options{Coupling: "dc"})
	wantCodes(t, r, "offset 200 mV", "offset")
	near(t, "blanking", r.BlankingVolts, 0.2, 0.005, "made so")
	near(t, "luma", r.LumaPeakToPeakVolts, 1, 0.01, "offset moves no amplitude")

	s = wide(std625(), white)
	s.ac = true
	r = analyse(t, s, video.Options{Coupling: "ac"})
	wantCodes(t, r, "AC", "ac-coupled")
	near(t, "blanking", r.BlankingVolts, -0.546, 0.02, "V-83: mean of a white line is +546 mV")
	near(t, "luma", r.LumaPeakToPeakVolts, 1, 0.01, "amplitudes hold")
	unknown := record(s)
	unknown.Coupling = ""
	r, err := video.Analyse(unknown, video.Options{Limits: video.WorkshopLimits()})
	if err != nil {
		t.Fatal(err)
	}
	wantCodes(t, r, "coupling not known", "offset")
	if !strings.Contains(r.Findings[0].Text, "AC-coupled") {
		t.Errorf("text %q does not say that coupling may explain it", r.Findings[0].Text)
	}

	s.picture = black
	r = analyse(t, s, video.Options{Coupling: "ac"})
	near(t, "blanking of black", r.BlankingVolts, 0.022, 0.01, "V-83: mean of a black line is -22 mV")
}

// A record cut off by the range looks like double termination or weak sync.
func TestClippedByRange(t *testing.T) {
	for _, known := range []bool{true, false} {
		s := wide(std625(), bars(1, 0.75, 0.7))
		s.low, s.high = -0.5, 0.45
		r := analyseRange(t, s, known)
		have := codesOf(r)
		if !have["clipped-by-range"] || have["looks-double-terminated"] || have["level-low"] || have["white-compressed"] {
			t.Errorf("top cut off, range known %v: %v", known, have)
		}
		notMeasured(t, "white", r.WhiteVolts, "cut off")
		notMeasured(t, "luma", r.LumaPeakToPeakVolts, "white is cut off")
		near(t, "sync", r.SyncVolts, 0.3, 0.01, "sync is whole")

		s.low, s.high = -0.15, 1.2
		r = analyseRange(t, s, known)
		have = codesOf(r)
		if !have["clipped-by-range"] {
			t.Errorf("bottom cut off, range known %v: %v", known, have)
		}
		for _, f := range checks.Shown(r.Findings) {
			if f.Code == "sync-low" || f.Code == "looks-double-terminated" || f.Code == "looks-unterminated" {
				t.Errorf("bottom cut off, range known %v: %s is shown: %s", known, f.Code, f.Text)
			}
		}
		notMeasured(t, "sync tip", r.SyncTipVolts, "cut off")
		notMeasured(t, "sync", r.SyncVolts, "cut off")
	}
}

func analyseRange(t *testing.T, s scene, known bool) video.Result {
	t.Helper()
	v := record(s)
	if !known {
		v.LowVolts, v.HighVolts, v.StepVolts = 0, 0, 0
	}
	r, err := video.Analyse(v, video.Options{Limits: video.WorkshopLimits()})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func TestWrongSystem(t *testing.T) {
	s := wide(std525(), white)
	r := analyse(t, s, video.Options{System: video.System625})
	wantCodes(t, r, "525 for 625", "wrong-system")
	r = analyse(t, s, video.Options{System: video.System525})
	wantCodes(t, r, "525 for 525")
}

func TestInverted(t *testing.T) {
	s := wide(std625(), game)
	s.gain, s.low, s.high = -1, -1.5, 1.5
	r := analyse(t, s, video.Options{})
	wantCodes(t, r, "upside down", "inverted", "no-sync")
	if shown := checks.Shown(r.Findings); len(shown) != 1 || shown[0].Code != "inverted" {
		t.Errorf("shown are %v, want inverted alone", shown)
	}
	if r.System != video.System625 {
		t.Errorf("system %q: timing does not depend on polarity", r.System)
	}
	notMeasured(t, "sync", r.SyncVolts, "upside down")
}

func TestLineRateOff(t *testing.T) {
	d := std625()
	d.period = 64 * us * 1.003
	s := wide(d, white)
	r := analyse(t, s, video.Options{})
	wantCodes(t, r, "0.3 % slow", "line-rate-off")
	d.period = 64 * us * 1.0005
	s = wide(d, white)
	wantCodes(t, analyse(t, s, video.Options{}), "0.05 % slow")
}

func TestTooFewSamples(t *testing.T) {
	s := wide(std625(), white)
	s.rate = 10e6
	r := analyse(t, s, video.Options{})
	wantCodes(t, r, "10 MS/s", "too-few-samples")
	notMeasured(t, "overshoot", r.OvershootPercent, "10 MS/s")
	near(t, "luma", r.LumaPeakToPeakVolts, 1, 0.01, "levels need no more")

	v := record(wide(std625(), white))
	v.Volts = v.Volts[:600]
	r, err := video.Analyse(v, video.Options{Limits: video.WorkshopLimits()})
	if err != nil {
		t.Fatal(err)
	}
	if !codesOf(r)["too-few-samples"] {
		t.Errorf("24 us of a line: %v, want too-few-samples", codesOf(r))
	}
	s.rate = 2e6
	r = analyse(t, s, video.Options{})
	if !codesOf(r)["too-few-samples"] || !codesOf(r)["no-sync"] || !math.IsNaN(r.SyncVolts.Value) {
		t.Errorf("2 MS/s: %v", codesOf(r))
	}
	if shown := checks.Shown(r.Findings); len(shown) != 1 || shown[0].Code != "too-few-samples" {
		t.Errorf("2 MS/s: shown are %v", shown)
	}
}
