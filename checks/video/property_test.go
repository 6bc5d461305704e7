package video_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"soakline/checks"
	"soakline/checks/video"
)

func record(s scene) video.Record {
	return video.Record{
		Volts: s.volts(), SampleIntervalSeconds: 1 / s.rate,
		StepVolts: s.step(), LowVolts: s.low, HighVolts: s.high, Coupling: "dc",
	}
}

func analyse(t *testing.T, s scene, o video.Options) video.Result {
	t.Helper()
	if o.Limits == (video.Limits{}) {
		o.Limits = video.WorkshopLimits()
	}
	r, err := video.Analyse(record(s), o)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// Line periods in use: V-20, V-60 to V-68.
var (
	periods525 = []float64{63.5556, 63.6952, 63.5090, 63.4159}
	periods625 = []float64{64.0000, 64.0560, 63.8305}
)

// variation is scene number seed: a good unit, more or less.
func variation(seed uint64) scene {
	r := rand.New(rand.NewPCG(seed, 20))
	d := std625()
	d.period = periods625[r.IntN(len(periods625))] * us
	if r.IntN(2) == 0 {
		d = std525()
		d.period = periods525[r.IntN(len(periods525))] * us
		if r.IntN(3) == 0 {
			d.setup = 0
		}
	}
	span := d.white - d.setup
	pictures := []func(int) []patch{
		white, black, grey, bars(1, 0.75, span), bars(0.75, 0.75, span), bars(1, 1, span), staircase(5), staircase(10),
		windowPicture, stripes(4, 0, 1), stripes(16, 0, 1), stripes(3, 0.2, 0.8), dark, game, multiburst(0.5e6, 1e6, 2e6, 3e6, 4e6, 4.8e6),
	}
	s := base(d, pictures[r.IntN(len(pictures))])
	s.lines = 6 + r.IntN(8)
	s.begin = r.Float64() * d.period
	s.seed = seed
	s.noise = 0.005
	s.gain = 0.96 + 0.08*r.Float64()
	s.offset = 0.04 * (2*r.Float64() - 1)
	s.edge = (0.08 + 0.08*r.Float64()) * us
	if r.IntN(2) == 0 {
		s.fn, s.zeta = (4.5+3*r.Float64())*1e6, 0.45+0.4*r.Float64()
	}
	if r.IntN(3) == 0 {
		s.hum, s.humHz, s.humPhase = 0.02*r.Float64(), 50, 6*r.Float64()
	}
	if r.IntN(3) == 0 {
		s.tone, s.toneHz = 0.004+0.006*r.Float64(), (0.8+9*r.Float64())*1e6
		if math.Abs(s.toneHz-d.subcarrier) < 0.8e6 {
			s.toneHz = 6.2e6
		}
	}
	if r.IntN(4) == 0 {
		s.tilt = 0.02 * r.Float64()
	}
	s.noBurst = r.IntN(10) == 0
	return s
}

func off(what string, m video.Measured, want, tolerance float64) string {
	if !m.OK() || math.Abs(m.Value-want) <= tolerance {
		return ""
	}
	return fmt.Sprintf("%s %.5g, truth %.5g ± %.2g; ", what, m.Value, want, tolerance)
}

var setUpCodes = map[checks.FindingCode]bool{
	"looks-unterminated": true, "looks-double-terminated": true, "clipped-by-range": true,
	"ac-coupled": true, "wrong-system": true, "too-few-samples": true, "inverted": true, "no-sync": true,
}

// wrong lists how a result differs from what its scene was made with: at 25 MS/s,
// 8 bits and 5 mV of noise, levels within 1 % of 1 V, blanking within 5 mV,
// overshoot within 1.5 points, rise within 8 % or one sample, noise within 10 %,
// tones within 15 % (these bounds are the project's own).
func wrong(s scene, r video.Result) string {
	d, g := s.standard, s.gain
	if string(r.System) != d.name {
		return fmt.Sprintf("system %q, truth %q", r.System, d.name)
	}
	// Hum moves a short record as a whole; the middle of it is what blanking is
	// compared with.
	hum := 0.0
	if s.hum != 0 {
		middle := float64(s.lines) * d.period / 2
		hum = s.hum / 2 * math.Sin(2*math.Pi*s.humHz*middle+s.humPhase)
	}
	zero := s.offset + hum
	text := off("sync tip", r.SyncTipVolts, zero-g*d.sync, 0.010) +
		off("blanking", r.BlankingVolts, zero, 0.005) +
		off("black", r.BlackVolts, zero+g*d.setup, 0.010) +
		off("white", r.WhiteVolts, zero+g*d.white, 0.010) +
		off("sync", r.SyncVolts, g*d.sync, 0.010) +
		off("luma", r.LumaPeakToPeakVolts, g*(d.sync+d.white), 0.010) +
		off("noise", r.NoiseVolts, s.noise, 0.1*s.noise) +
		off("period", r.LinePeriodSeconds, d.period, 1e-4*d.period) +
		off("sync width", r.SyncWidthSeconds, d.syncWidth, 0.05*us)
	overshoot, rise := s.truthOfEdge()
	text += off("overshoot", r.OvershootPercent, overshoot, 1.5) +
		off("undershoot", r.UndershootPercent, overshoot, 1.5) +
		off("rise", r.RiseSeconds, rise, math.Max(0.08*rise, 1/s.rate)) +
		off("fall", r.FallSeconds, rise, math.Max(0.08*rise, 1/s.rate))
	text += wrongTones(s, r)
	for _, f := range r.Findings {
		if setUpCodes[f.Code] {
			text += "diagnosis " + string(f.Code) + ": " + f.Text
		}
	}
	return text
}

func wrongTones(s scene, r video.Result) string {
	if s.tone == 0 {
		if len(r.Tones) > 0 {
			return fmt.Sprintf("tones %v, there is none; ", r.Tones)
		}
		return ""
	}
	if len(r.Tones) == 0 {
		return fmt.Sprintf("tone of %.4g V at %.3g Hz not found; ", s.tone, s.toneHz)
	}
	return off("tone", r.Tones[0].RMSVolts, s.tone, 0.15*s.tone) + off("tone at", r.Tones[0].Hertz, s.toneHz, 0.1e6)
}

func TestAccuracyOverVariations(t *testing.T) {
	t.Parallel()
	const variations = 1000
	measured := map[string]int{}
	for seed := range uint64(variations) {
		s := variation(seed)
		r := analyse(t, s, video.Options{})
		if text := wrong(s, r); text != "" {
			t.Errorf("seed %d: %s", seed, text)
		}
		for name, m := range map[string]video.Measured{
			"white": r.WhiteVolts, "black": r.BlackVolts, "burst": r.BurstPeakToPeakVolts,
			"overshoot": r.OvershootPercent, "undershoot": r.UndershootPercent, "noise": r.NoiseVolts,
		} {
			if m.OK() {
				measured[name]++
			}
		}
	}
	// An analyser that measures nothing is never wrong: it must not win.
	for name, least := range map[string]int{"white": 500, "black": 600, "burst": 850, "overshoot": 600, "undershoot": 400, "noise": 1000} {
		if measured[name] < least {
			t.Errorf("%s was measured on %d of %d records, want %d", name, measured[name], variations, least)
		}
	}
}
