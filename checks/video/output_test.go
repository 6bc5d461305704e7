package video_test

import (
	"bytes"
	"encoding/json"
	"flag"
	"math"
	"os"
	"strings"
	"testing"
	"time"

	"soakline/checks/video"
	"soakline/device"
)

var update = flag.Bool("update", false, "rewrite golden files")

// contract are the keys that others rely on.
var contract = strings.Fields(`system lines_found line_period_s sync_width_s sync_tip_v blanking_v black_v white_v
	peak_to_peak_v luma_peak_to_peak_v sync_v picture_v burst_pp_v burst_hz overshoot_pct undershoot_pct rise_s fall_s
	bandwidth_hz noise_rms_v noise_bandwidth_hz tones state findings`)

func TestJSONKeys(t *testing.T) {
	s := wide(std625(), dark)
	s.gain, s.tone, s.toneHz, s.lines = 1.2, 0.01, 6.5e6, 10
	for name, r := range map[string]video.Result{
		"dark and hot": analyse(t, s, video.Options{}),
		"no video":     analyse(t, scene{standard: std625(), rate: 25e6, lines: 2, picture: black, low: -1, high: 1}, video.Options{}),
	} {
		text, err := json.Marshal(r)
		if err != nil {
			t.Fatal(err)
		}
		var keys map[string]any
		if err := json.Unmarshal(text, &keys); err != nil {
			t.Fatal(err)
		}
		for _, key := range contract {
			if _, there := keys[key]; !there {
				t.Errorf("%s: key %s is missing", name, key)
			}
		}
		if keys["white_v"] != nil || keys["luma_peak_to_peak_v"] != nil {
			t.Errorf("%s: white %v, want null", name, keys["white_v"])
		}
		for key, value := range keys {
			counts := key == "lines_found" || key == "peak_to_peak_v" || strings.HasSuffix(key, "shoot_pct")
			if value == 0.0 && !counts && !strings.Contains(key, "_u_") {
				t.Errorf("%s: %s is 0: not measured is null", name, key)
			}
		}
		if _, list := keys["tones"].([]any); !list {
			t.Errorf("%s: tones are %v, want a list", name, keys["tones"])
		}
	}
}

// The printed form, rounded so that another processor's last digit does not matter.
func TestJSONGolden(t *testing.T) {
	s := wide(std525(), bars(1, 0.75, std525().white-std525().setup))
	s.gain, s.offset, s.lines = 1.15, 0.08, 8
	text, err := json.Marshal(analyse(t, s, video.Options{}))
	if err != nil {
		t.Fatal(err)
	}
	got := rounded(t, text)
	const name = "testdata/hot.json"
	if *update {
		if err := os.WriteFile(name, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Errorf("result is\n%s\nwant\n%s", got, want)
	}
}

// rounded keeps five digits of every number and the order of the keys.
func rounded(t *testing.T, text []byte) []byte {
	t.Helper()
	d := json.NewDecoder(bytes.NewReader(text))
	d.UseNumber()
	var indented bytes.Buffer
	if err := json.Indent(&indented, text, "", "  "); err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(indented.String(), "\n")
	for i, line := range lines {
		key, value, found := strings.Cut(line, ": ")
		value, comma := strings.CutSuffix(value, ",")
		var x float64
		if !found || json.Unmarshal([]byte(value), &x) != nil || value == "null" {
			continue
		}
		short, _ := json.Marshal(roundTo(x, 5))
		lines[i] = key + ": " + string(short)
		if comma {
			lines[i] += ","
		}
	}
	return []byte(strings.Join(lines, "\n") + "\n")
}

func roundTo(x float64, digits int) float64 {
	if x == 0 {
		return 0
	}
	p := math.Pow(10, float64(digits-1)-math.Floor(math.Log10(math.Abs(x))))
	return math.Round(x*p) / p
}

func TestReadings(t *testing.T) {
	at := time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)
	s := wide(std625(), windowPicture)
	s.fn, s.zeta = 5.5e6, 0.5
	r := analyse(t, s, video.Options{})
	got := map[device.Measure]device.Reading{}
	for _, reading := range r.Readings(at) {
		if !reading.Measure.Known() || math.IsNaN(reading.Value) || reading.StandardUncertainty < 0 || !reading.At.Equal(at) {
			t.Errorf("reading %+v", reading)
		}
		if _, twice := got[reading.Measure]; twice {
			t.Errorf("%s twice", reading.Measure)
		}
		got[reading.Measure] = reading
	}
	if m := got[device.Overshoot]; math.Abs(m.Value-r.OvershootPercent.Value/100) > 1e-12 {
		t.Errorf("overshoot %g is not a ratio", m.Value)
	}
	for _, m := range []device.Measure{device.PeakToPeak, device.LumaPeakToPeak, device.SyncTip, device.Blanking, device.Black, device.White,
		device.SyncAmplitude, device.Picture, device.Burst, device.BurstFrequency, device.Rise, device.Fall, device.Noise, device.LinePeriod, device.SyncWidth, device.Bandwidth, device.Tilt} {
		if _, there := got[m]; !there {
			t.Errorf("no reading of %s", m)
		}
	}
	for _, reading := range analyse(t, s, video.Options{Coupling: "ac"}).Readings(at) {
		if reading.Measure == device.Blanking || reading.Measure == device.White {
			t.Errorf("%s of an AC-coupled input is a reading against 0 V", reading.Measure)
		}
	}
	s.picture = dark
	for _, reading := range analyse(t, s, video.Options{}).Readings(at) {
		if reading.Measure == device.White || reading.Measure == device.LumaPeakToPeak {
			t.Errorf("a dark picture has a reading of %s", reading.Measure)
		}
	}
}

func TestMeanLine(t *testing.T) {
	s := wide(std625(), windowPicture)
	s.lines, s.noise = 30, 0.01
	v := record(s)
	r := analyse(t, s, video.Options{})
	for _, points := range []int{200, 800, 5000} {
		m := r.MeanLine(v, points, 25)
		if m.Lines != 25 || len(m.Volts) < min(points/2, 1600) || len(m.Volts) > 2*points {
			t.Fatalf("%d points of %d lines, want about %d of 25", len(m.Volts), m.Lines, points)
		}
		at := func(seconds float64) float64 { return m.Volts[int((seconds-m.StartSeconds)/m.IntervalSeconds+0.5)] }
		for _, place := range []struct{ at, want float64 }{{2.3 * us, -0.3}, {9.5 * us, 0}, {36 * us, 0.7}, {15 * us, 0}} {
			if math.Abs(at(place.at)-place.want) > 0.01 {
				t.Errorf("%d points: %g V at %g us, want %g", points, at(place.at), place.at/us, place.want)
			}
		}
	}
	if m := r.MeanLine(v, 800, 0); m.Volts != nil || m.Lines != 0 {
		t.Errorf("no lines give %d points", len(m.Volts))
	}
	if m := (video.Result{}).MeanLine(v, 800, 5); m.Volts != nil {
		t.Error("a result without lines gives a line")
	}
}

// What a capture knows comes along, and the samples are not copied.
func TestFromCapture(t *testing.T) {
	c := device.Capture{Volts: []float64{1, 2}, SampleIntervalSeconds: 4e-8, StepVolts: 0.01, LowVolts: -1, HighVolts: 1, Coupling: "ac"}
	r := video.FromCapture(c)
	if &r.Volts[0] != &c.Volts[0] || r.SampleIntervalSeconds != 4e-8 || r.StepVolts != 0.01 || r.LowVolts != -1 || r.HighVolts != 1 || r.Coupling != "ac" {
		t.Errorf("record %+v of capture %+v", r, c)
	}
}

// The codes are those that the contract names, once each.
func TestFindingCodes(t *testing.T) {
	want := strings.Fields(`level-high level-low offset overshoot soft-edges noisy hum tone sync-low burst-low no-burst no-sync
		inverted line-rate-off tilt white-compressed looks-unterminated looks-double-terminated clipped-by-range ac-coupled wrong-system too-few-samples`)
	have := map[string]bool{}
	for _, code := range video.FindingCodes() {
		have[string(code)] = true
	}
	for _, code := range want {
		if !have[code] {
			t.Errorf("code %s is missing", code)
		}
	}
	if len(have) != len(want) {
		t.Errorf("%d codes, want %d", len(have), len(want))
	}
}

// The scope's own rise comes out of the reading where its bandwidth is known (W6).
func TestScopeBandwidth(t *testing.T) {
	s := wide(std625(), white)
	s.rate, s.lowPass = 100e6, 20e6
	_, all := s.truthOfEdge()
	s.lowPass = 0
	_, own := s.truthOfEdge()
	s.lowPass = 20e6
	near(t, "with the scope", analyse(t, s, video.Options{}).RiseSeconds, all, 0.04*all, "made so")
	near(t, "without it", analyse(t, s, video.Options{ScopeBandwidthHertz: 20e6}).RiseSeconds, own, 0.04*own, "P-24")
	r := analyse(t, s, video.Options{ScopeBandwidthHertz: 5e6})
	if r.RiseSeconds.U < 0.3*r.RiseSeconds.Value {
		t.Errorf("a 5 MHz scope gives %g ± %g", r.RiseSeconds.Value, r.RiseSeconds.U)
	}
}
