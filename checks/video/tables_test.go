package video_test

import (
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"strconv"
	"testing"

	"soakline/checks/video"
)

func near(t *testing.T, what string, got video.Measured, want, tolerance float64, source string) {
	t.Helper()
	if !(math.Abs(got.Value-want) <= tolerance) {
		t.Errorf("%s = %.6g, want %.6g ± %.2g (%s)", what, got.Value, want, tolerance, source)
	}
}

func notMeasured(t *testing.T, what string, m video.Measured, why string) {
	t.Helper()
	if m.OK() {
		t.Errorf("%s = %g, want not measured (%s)", what, m.Value, why)
	}
}

func codesOf(r video.Result) map[string]bool {
	all := map[string]bool{}
	for _, f := range r.Findings {
		all[string(f.Code)] = true
	}
	return all
}

func wantCodes(t *testing.T, r video.Result, name string, want ...string) {
	t.Helper()
	have := codesOf(r)
	for _, code := range want {
		if !have[code] {
			t.Errorf("%s: no finding %s among %v", name, code, have)
		}
		delete(have, code)
	}
	for code := range have {
		for _, f := range r.Findings {
			if string(f.Code) == code {
				t.Errorf("%s: finding %s is wrong: %s", name, code, f.Text)
			}
		}
	}
}

// rows reads a table of testdata, whose header names its columns.
func rows(t *testing.T, name string) []map[string]string {
	t.Helper()
	f, err := os.Open("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	all, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []map[string]string
	for _, row := range all[1:] {
		m := map[string]string{}
		for i, cell := range row {
			m[all[0][i]] = cell
		}
		out = append(out, m)
	}
	return out
}

func number(t *testing.T, text string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

// tableSystem is the standard that a table's system column names; without set-up for
// signals that have none.
func tableSystem(system, signal string) standard {
	if system == "625" {
		return std625()
	}
	d := std525()
	if signal == "staircase 5 steps, no setup" || signal == "staircase 10 steps, no setup" {
		d.setup = 0
	}
	return d
}

// Levels V-01 to V-06, staircases and bars, step by step: each is put on the lower
// half of a line with white beside it, and must come back as a level of its own.
func TestLevelTables(t *testing.T) {
	t.Parallel()
	for _, row := range rows(t, "levels.csv") {
		d := tableSystem(row["system"], row["signal"])
		want := number(t, row["level_mV"]) / 1000
		name := fmt.Sprintf("%s %s %s", row["system"], row["signal"], row["step"])
		luma := (want - d.setup) / (d.white - d.setup)
		chroma := 0.0
		if row["chroma_pp_mV"] != "" {
			chroma = number(t, row["chroma_pp_mV"]) / 1000
		}
		s := base(d, func(int) []patch { return []patch{{luma: luma, chroma: chroma}} })
		s.noise = 0.005
		r := analyse(t, s, video.Options{PictureHasWhite: true})
		source := "SMPTE 170M, BT.470-6: " + row["status"]
		switch row["step"] {
		case "sync tip":
			near(t, name, r.SyncTipVolts, want, 0.010, source)
		case "blanking", "blanking and black":
			near(t, name, r.BlankingVolts, want, 0.005, source)
		default:
			if chroma == 0 && want > 0.21*d.white {
				near(t, name, r.WhiteVolts, want, 0.010, source)
			}
			if want < 0.08 && chroma == 0 {
				near(t, name, r.BlackVolts, want, 0.010, source)
			}
			if chroma > 0.15 {
				notMeasured(t, name, r.WhiteVolts, "colour is neither black nor white")
			}
		}
	}
}

// Line periods and field line counts: V-20, V-50, V-60 to V-68.
func TestTimingTables(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		id, system    string
		period, lines float64
		hertz         float64
	}{
		{"V-20", "525/60", 63.5556, 262.5, 59.94006}, {"V-20", "625/50", 64, 312.5, 50},
		{"V-60", "525/60", 63.5556, 262, 60.0544}, {"V-61", "525/60", 63.5556, 263, 59.8261}, {"V-62", "525/60", 63.6952, 262, 59.9228},
		{"V-63", "525/60", 63.5090, 262, 60.0985}, {"V-64", "525/60", 63.4159, 262, 60.1867},
		{"V-65", "625/50", 64, 312, 50.0801}, {"V-66", "625/50", 64, 313, 49.9201},
		{"V-67", "625/50", 64.0560, 312, 50.0363}, {"V-68", "625/50", 63.8305, 312, 50.2131},
	} {
		d := std625()
		if row.system == "525/60" {
			d = std525()
		}
		d.period = row.period * us
		s := base(d, game)
		s.noise, s.fieldLines, s.lines = 0.005, row.lines, int(2*row.lines)+3
		r := analyse(t, s, video.Options{})
		name := fmt.Sprintf("%s %s %g lines", row.id, row.system, row.lines)
		if string(r.System) != row.system {
			t.Errorf("%s: system %q", name, r.System)
		}
		near(t, name+" period in us", video.Measured{Value: r.LinePeriodSeconds.Value / us}, row.period, 0.001, "table value, last digit")
		near(t, name+" field rate", video.Measured{Value: r.FieldHertz()}, row.hertz, 0.0005, "table value")
		if r.LinesPerField != row.lines {
			t.Errorf("%s: %g lines per field", name, r.LinesPerField)
		}
		near(t, name+" white", r.WhiteVolts, d.white, 0.010, "V-03")
		near(t, name+" black", r.BlackVolts, d.setup, 0.010, "V-04")
		wantCodes(t, r, name)
	}
}

// Sync width V-23, burst V-05 and V-40, at several rates and resolutions.
func TestRatesAndResolutions(t *testing.T) {
	t.Parallel()
	for _, rate := range []float64{8e6, 10e6, 13.5e6, 16e6, 20e6, 25e6, 27e6, 50e6, 62.5e6, 100e6, 125e6, 250e6, 500e6, 1e9} {
		for _, bits := range []int{8, 10, 12, 16, 0} {
			if rate > 30e6 && bits != 8 && bits != 12 {
				continue
			}
			for _, d := range []standard{std625(), std525()} {
				name := fmt.Sprintf("%s at %g MS/s, %d bits", d.name, rate/1e6, bits)
				s := base(d, bars(1, 0.75, d.white-d.setup))
				s.rate, s.bits, s.noise, s.lines = rate, bits, 0.004, 4
				r := analyse(t, s, video.Options{})
				checkRate(t, name, s, r)
			}
		}
	}
}

// Multiburst packets are picture: no level, no tone and no ringing is made of them, and
// the white flag before them is white.
func TestMultiburstTables(t *testing.T) {
	packets := map[string][]float64{}
	for _, row := range rows(t, "multiburst.csv") {
		packets[row["system"]] = append(packets[row["system"]], 1e6*number(t, row["frequency_MHz"]))
	}
	if len(packets) != 3 {
		t.Fatalf("%d sets of packets, want 3", len(packets))
	}
	for system, hertz := range packets {
		d := tableSystem(system[:3], "")
		for _, rate := range []float64{25e6, 50e6, 100e6} {
			s := base(d, multiburst(hertz...))
			s.rate, s.noise, s.edge, s.high = rate, 0.005, 0.12*us, 1.2
			name := fmt.Sprintf("%s at %g MS/s", system, rate/1e6)
			r := analyse(t, s, video.Options{})
			near(t, name+": white", r.WhiteVolts, d.white, 0.01, "V-03")
			near(t, name+": overshoot", r.OvershootPercent, 0, 2, "made so")
			if len(r.Tones) > 0 {
				t.Errorf("%s: tones %v", name, r.Tones)
			}
			wantCodes(t, r, name)
		}
	}
}

// One long vertical pulse instead of serrated ones, as some old consoles make it
// (common practice): lines are counted all the same, wherever the record begins.
func TestLongVerticalPulse(t *testing.T) {
	t.Parallel()
	for _, begin := range []float64{30, 100, 200, 5000} {
		s := base(std525(), game)
		s.longPulse, s.fieldLines, s.lines, s.begin, s.noise = true, 262, 560, begin*us, 0.005
		r := analyse(t, s, video.Options{})
		if r.LinesPerField != 262 {
			t.Errorf("from %g us: %g lines per field, want 262", begin, r.LinesPerField)
		}
		near(t, "black", r.BlackVolts, s.standard.setup, 0.01, "V-04")
		wantCodes(t, r, "long pulse")
	}
}

func checkRate(t *testing.T, name string, s scene, r video.Result) {
	t.Helper()
	d := s.standard
	if string(r.System) != d.name || r.LinesFound < 3 || r.LinesFound > 4 {
		t.Errorf("%s: system %q, %d lines", name, r.System, r.LinesFound)
	}
	near(t, name+": sync width", r.SyncWidthSeconds, d.syncWidth, math.Max(0.03*us, 0.4/s.rate), "V-23")
	near(t, name+": luma", r.LumaPeakToPeakVolts, 1, 0.010, "V-01")
	near(t, name+": blanking", r.BlankingVolts, 0, 0.005, "V-02")
	near(t, name+": noise", r.NoiseVolts, s.noise, 0.1*s.noise, "made so")
	if d.subcarrier < 0.45*s.rate {
		near(t, name+": burst", r.BurstPeakToPeakVolts, d.burstPP, 0.05*d.burstPP, "V-05")
		near(t, name+": burst frequency", r.BurstHertz, d.subcarrier, math.Max(6000, 4*r.BurstHertz.U), "V-40")
	} else {
		notMeasured(t, name+": burst", r.BurstPeakToPeakVolts, "above half the sample rate")
	}
	if s.rate < 19e6 {
		notMeasured(t, name+": overshoot", r.OvershootPercent, "too few samples on an edge")
		wantCodes(t, r, name, "too-few-samples")
		return
	}
	if !r.OvershootPercent.OK() && s.rate >= 25e6 {
		t.Errorf("%s: overshoot was not measured", name)
	}
	_, rise := s.truthOfEdge()
	near(t, name+": rise", r.RiseSeconds, rise, math.Max(0.08*rise, 0.3/s.rate), "raised cosine")
	wantCodes(t, r, name)
}
