package video_test

import (
	"encoding/json"
	"errors"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"soakline/checks"
	"soakline/checks/video"
)

func TestRecordsThatCannotBeAnalysed(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	ok := make([]float64, 4000)
	bad := func(x float64) []float64 {
		v := make([]float64, 4000)
		v[1234] = x
		return v
	}
	for _, row := range []struct {
		name string
		r    video.Record
		says string
	}{
		{"empty", video.Record{SampleIntervalSeconds: 4e-8}, "empty"},
		{"one sample", video.Record{Volts: []float64{1}, SampleIntervalSeconds: 4e-8}, "one sample"},
		{"no interval", video.Record{Volts: ok}, "interval"},
		{"negative interval", video.Record{Volts: ok, SampleIntervalSeconds: -1}, "interval"},
		{"interval NaN", video.Record{Volts: ok, SampleIntervalSeconds: nan}, "interval"},
		{"interval infinite", video.Record{Volts: ok, SampleIntervalSeconds: inf}, "interval"},
		{"NaN", video.Record{Volts: bad(nan), SampleIntervalSeconds: 4e-8}, "sample 1235"},
		{"infinite", video.Record{Volts: bad(inf), SampleIntervalSeconds: 4e-8}, "sample 1235"},
		{"minus infinite", video.Record{Volts: bad(-inf), SampleIntervalSeconds: 4e-8}, "sample 1235"},
		{"NaN at the end", video.Record{Volts: append(make([]float64, 1000), nan), SampleIntervalSeconds: 4e-8}, "sample 1001"},
		{"too large", video.Record{Volts: []float64{1e308, 1e308, 1e308, 1e308, 1e308, 1e308, 1e308}, SampleIntervalSeconds: 4e-8}, "too large"},
		{"step NaN", video.Record{Volts: ok, SampleIntervalSeconds: 4e-8, StepVolts: nan}, "step"},
		{"range upside down", video.Record{Volts: ok, SampleIntervalSeconds: 4e-8, LowVolts: 1, HighVolts: -1}, "range"},
		{"coupling", video.Record{Volts: ok, SampleIntervalSeconds: 4e-8, Coupling: "gnd"}, "coupling"},
	} {
		_, err := video.Analyse(row.r, video.Options{})
		if !errors.Is(err, video.ErrRecord) || !strings.Contains(err.Error(), row.says) {
			t.Errorf("%s: error %v, want one that says %q", row.name, err, row.says)
		}
	}
}

func TestWrongOptions(t *testing.T) {
	r := record(base(std625(), white))
	limits := video.WorkshopLimits()
	limits.NoiseVolts, limits.LevelShare = -1, math.NaN()
	for name, o := range map[string]video.Options{
		"system": {System: "405/50"}, "coupling": {Coupling: "hf"}, "mains": {MainsHertz: 55},
		"bandwidth": {ScopeBandwidthHertz: -1}, "limits": {Limits: limits},
	} {
		if _, err := video.Analyse(r, o); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
	text := limits.Validate().Error()
	if !strings.Contains(text, "noise_v") || !strings.Contains(text, "level_share") {
		t.Errorf("mistakes %q, want both at once", text)
	}
	limits = video.WorkshopLimits()
	limits.UnterminatedTo, limits.DoubleTerminatedTo = 1, 0.1
	if text := limits.Validate().Error(); strings.Count(text, "above") != 2 {
		t.Errorf("mistakes %q, want both pairs", text)
	}
}

// wave fills a record of n samples at 25 MS/s.
func wave(n int, f func(t float64) float64) []float64 {
	v := make([]float64, n)
	for i := range v {
		v[i] = f(float64(i) * 4e-8)
	}
	return v
}

// What is no video gives no-sync and not one figure of a level.
func TestNoVideo(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	noise := func(sd float64) func(float64) float64 {
		return func(float64) float64 { return sd * random.NormFloat64() }
	}
	luma := base(std625(), game)
	luma.standard.sync, luma.noBurst, luma.noise = 0, true, 0.003
	sine := func(hertz, amplitude, offset float64) func(float64) float64 {
		return func(t float64) float64 { return offset + amplitude*math.Sin(2*math.Pi*hertz*t) }
	}
	sawtooth := func(hertz float64) func(float64) float64 {
		return func(t float64) float64 { _, f := math.Modf(t * hertz); return 5 + 0.1*f }
	}
	for name, v := range map[string][]float64{
		"flat zero":              make([]float64, 20000),
		"flat 5 V":               wave(20000, func(float64) float64 { return 5 }),
		"two samples":            {0, 1},
		"noise":                  wave(20000, noise(0.1)),
		"a million of noise":     wave(1_000_000, noise(0.1)),
		"5 V rail with noise":    wave(20000, func(t float64) float64 { return 5 + 0.01*random.NormFloat64() }),
		"rail ripple 100 Hz":     wave(1_000_000, sawtooth(100)),
		"ripple of a converter":  wave(20000, sawtooth(66e3)),
		"ripple at line rate":    wave(40000, sawtooth(15625)),
		"audio tone 1 kHz":       wave(100000, sine(1000, 0.5, 0)),
		"audio tone 15.7 kHz":    wave(100000, sine(15700, 0.5, 0)),
		"square 15.6 kHz":        wave(100000, func(t float64) float64 { return math.Copysign(0.5, math.Sin(2*math.Pi*15625*t)) }),
		"subcarrier":             wave(20000, sine(4.43361875e6, 0.3, 0)),
		"luma without sync":      luma.volts(),
		"one step":               wave(20000, func(t float64) float64 { return math.Copysign(1, t-4e-4) }),
		"one spike":              wave(20000, func(t float64) float64 { return 1 / (1 + math.Abs(t-4e-4)*1e9) }),
		"stripes of 4.7 us":      wave(20000, func(t float64) float64 { return math.Copysign(0.5, math.Sin(math.Pi*t/4.7e-6)) }),
		"noise above full scale": wave(20000, func(float64) float64 { return math.Max(-1, math.Min(1, 5*random.NormFloat64())) }),
	} {
		r, err := video.Analyse(video.Record{Volts: v, SampleIntervalSeconds: 4e-8}, video.Options{Limits: video.WorkshopLimits()})
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if !codesOf(r)["no-sync"] || r.State != checks.Outside {
			t.Errorf("%s: %v in state %s, want no-sync", name, codesOf(r), r.State)
		}
		for what, m := range map[string]video.Measured{
			"sync": r.SyncVolts, "white": r.WhiteVolts, "luma": r.LumaPeakToPeakVolts, "blanking": r.BlankingVolts,
			"burst": r.BurstPeakToPeakVolts, "overshoot": r.OvershootPercent, "noise": r.NoiseVolts,
		} {
			notMeasured(t, name+": "+what, m, "no video")
		}
	}
}

// All samples on an end of the range.
func TestAllClipped(t *testing.T) {
	r := video.Record{Volts: wave(20000, func(float64) float64 { return 1 }), SampleIntervalSeconds: 4e-8, LowVolts: -1, HighVolts: 1, StepVolts: 2.0 / 255}
	got, err := video.Analyse(r, video.Options{Limits: video.WorkshopLimits()})
	if err != nil {
		t.Fatal(err)
	}
	if have := codesOf(got); !have["clipped-by-range"] || !have["no-sync"] {
		t.Errorf("findings %v, want clipped-by-range and no-sync", have)
	}
	if shown := checks.Shown(got.Findings); len(shown) != 1 || shown[0].Code != "clipped-by-range" {
		t.Errorf("shown are %v", shown)
	}
}

// One line and a little, wherever it begins, is enough for the levels.
func TestOneLine(t *testing.T) {
	for _, d := range []standard{std625(), std525()} {
		for begin := 0.0; begin < d.period; begin += 1.7 * us {
			s := base(d, bars(1, 0.75, d.white-d.setup))
			s.begin, s.noise, s.rate, s.edge = begin, 0.004, 50e6, 0.12*us
			v := record(s)
			v.Volts = v.Volts[:int(1.1*d.period*s.rate)]
			r, err := video.Analyse(v, video.Options{Limits: video.WorkshopLimits()})
			if err != nil {
				t.Fatal(err)
			}
			if r.LinesFound == 1 && !r.BurstHertz.OK() && r.System == "" {
				// One sync at the very end: neither period nor burst tell.
				near(t, "sync", r.SyncVolts, d.sync, 0.015, d.name)
				continue
			}
			if string(r.System) != d.name {
				t.Errorf("%s from %.1f us: system %q, %d lines, %v", d.name, begin/us, r.System, r.LinesFound, codesOf(r))
				continue
			}
			near(t, "sync", r.SyncVolts, d.sync, 0.01, d.name)
			if r.WhiteVolts.OK() {
				near(t, "white", r.WhiteVolts, d.white, 0.01, d.name)
			}
			wantCodes(t, r, d.name)
		}
	}
}

func FuzzAnalyse(f *testing.F) {
	s := base(std625(), game)
	s.lines, s.rate = 2, 10e6
	var seed []byte
	for _, x := range s.volts() {
		seed = append(seed, byte(math.Max(0, math.Min(255, 100+x*140))))
	}
	f.Add(seed, 1e-7, 0.01, uint8(0))
	f.Add([]byte{0, 255, 0, 255}, 4e-8, 1.0, uint8(3))
	f.Fuzz(func(t *testing.T, raw []byte, dt, scale float64, flags uint8) {
		v := make([]float64, len(raw))
		for i, b := range raw {
			v[i] = scale * (float64(b) - 100)
		}
		r := video.Record{Volts: v, SampleIntervalSeconds: dt}
		if flags&1 != 0 {
			r.LowVolts, r.HighVolts, r.StepVolts = -100*math.Abs(scale), 155*math.Abs(scale), math.Abs(scale)
		}
		o := video.Options{Limits: video.WorkshopLimits(), PictureHasWhite: flags&2 != 0}
		got, err := video.Analyse(r, o)
		if err != nil {
			return
		}
		text, err := json.Marshal(got)
		if err != nil || !json.Valid(text) {
			t.Fatalf("result has no JSON: %v", err)
		}
		if got.LinesFound == 0 && (got.SyncVolts.OK() || got.WhiteVolts.OK() || !codesOf(got)["no-sync"]) {
			t.Fatalf("figures without a line: %s", text)
		}
		got.MeanLine(r, 500, 10)
	})
}
