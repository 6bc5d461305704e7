package audio_test

import (
	"encoding/json"
	"errors"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"soakline/checks"
	"soakline/checks/audio"
)

func codesOf(findings []checks.Finding) []string {
	var all []string
	for _, f := range findings {
		all = append(all, string(f.Code))
	}
	return all
}

// tone is a second of 1 kHz at -10 dBV with a noise floor 80 dB below.
func tone(seed uint64) []float64 {
	return made{seconds: 2, sines: []sine{{0.316, 1000, 0}}, noise: 3e-5, seed: seed}.volts()
}

func scaled(v []float64, by float64) []float64 {
	out := slices.Clone(v)
	for i := range out {
		out[i] *= by
	}
	return out
}

func clipped(v []float64, at float64) audio.Record {
	r := mono(slices.Clone(v))
	for i, x := range r.Channels[0].Volts {
		r.Channels[0].Volts[i] = math.Max(-at, math.Min(at, x))
	}
	r.Channels[0].LowVolts, r.Channels[0].HighVolts, r.Channels[0].StepVolts = -at, at, at/32768
	return r
}

// stepped is a record rounded to a step, as a converter of few bits gives it.
func stepped(v []float64, step float64) audio.Record {
	r := mono(slices.Clone(v))
	for i, x := range v {
		r.Channels[0].Volts[i] = step * math.Round(x/step)
	}
	r.Channels[0].StepVolts = step
	return r
}

func TestWhatIsFound(t *testing.T) {
	quiet := made{seconds: 2, noise: 1e-6}.volts()
	hummed := made{seconds: 2, sines: []sine{{0.316, 1000, 0}, {0.002, 100.04, 0}, {0.0005, 50.02, 0}}, noise: 3e-5}.volts()
	gap, click := tone(0), tone(0)
	for i := 20000; i < 24000; i++ {
		gap[i] *= 0.001
	}
	click[50000] += 0.05
	relative := mono(tone(0))
	relative.Relative = true
	slow := mono(tone(0)[:30000])
	slow.SampleIntervalSeconds = 1.0 / 11025
	tests := []struct {
		name   string
		record audio.Record
		want   []string // codes shown
		state  checks.State
	}{
		{"nothing wrong", mono(tone(0)), nil, checks.Within},
		{"nothing wrong on both", stereo(tone(0), tone(1)), nil, checks.Within},
		{"digital silence", mono(make([]float64, rate)), []string{"silent"}, checks.Outside},
		{"near silence on both", stereo(quiet, quiet), []string{"silent"}, checks.Outside},
		{"DC only", mono(made{seconds: 1, dc: 0.7}.volts()), []string{"silent"}, checks.Outside},
		{"DC under the tone", mono(made{seconds: 1, sines: []sine{{0.3, 1000, 0}}, noise: 3e-5, dc: 0.2}.volts()), []string{"offset"}, checks.Outside},
		{"one channel only", stereo(tone(0), quiet), []string{"one-channel-silent"}, checks.Outside},
		{"one input twice", stereo(tone(0), tone(0)), []string{"one-channel-twice"}, checks.Borderline},
		{"one upside down", stereo(tone(0), scaled(tone(1), -1)), []string{"channel-inverted"}, checks.Outside},
		{"different tones", stereo(tone(0), made{seconds: 2, sines: []sine{{0.3, 1700, 0}}, noise: 3e-5}.volts()), []string{"channels-differ"}, checks.Borderline},
		{"0.9 dB apart", stereo(tone(0), scaled(tone(1), math.Pow(10, -0.9/20))), nil, checks.Within},
		{"2 dB apart", stereo(tone(0), scaled(tone(1), math.Pow(10, -2.0/20))), []string{"unbalanced"}, checks.Borderline},
		{"4 dB apart", stereo(tone(0), scaled(tone(1), math.Pow(10, -4.0/20))), []string{"unbalanced"}, checks.Outside},
		{"clipped", clipped(tone(0), 0.35), []string{"clipped-by-range"}, checks.Outside},
		{"8 bits", stepped(tone(0), 1.0/128), []string{"few-codes"}, checks.Within},
		{"hum alone", mono(made{seconds: 2, sines: []sine{{0.01, 50.02, 0}}, noise: 3e-5}.volts()), []string{"hum-only"}, checks.Outside},
		{"ripple under the tone", mono(hummed), []string{"hum"}, checks.Borderline},
		{"noise 50 dB down", mono(made{seconds: 2, sines: []sine{{0.316, 1000, 0}}, noise: 1e-3}.volts()), []string{"noisy"}, checks.Borderline},
		{"noise 30 dB down", mono(made{seconds: 2, sines: []sine{{0.316, 1000, 0}}, noise: 1e-2}.volts()), []string{"noisy"}, checks.Outside},
		{"noise alone", mono(made{seconds: 2, noise: 0.1}.volts()), []string{"no-tone"}, checks.Within},
		{"a click", mono(click), []string{"clicks"}, checks.Borderline},
		{"a gap", mono(gap), []string{"dropouts"}, checks.Outside},
		{"square wave of a sound chip", mono(shape(2, 500, square)), []string{"distorted"}, checks.Borderline},
		{"no volts", relative, []string{"no-volts"}, checks.Within},
		{"low rate", slow, []string{"narrow-band"}, checks.Within},
		{"short", mono(tone(0)[:4000]), []string{"hum-not-told"}, checks.Within},
		{"very short", mono(tone(0)[:20]), []string{"too-short"}, checks.Borderline},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			r := analyse(t, tt.record, audio.Options{Limits: audio.WorkshopLimits()})
			if got := codesOf(checks.Shown(r.Findings)); !slices.Equal(got, tt.want) {
				t.Errorf("shown %v, want %v", got, tt.want)
			}
			if r.State != tt.state {
				t.Errorf("%s, want %s", r.State, tt.state)
			}
			for _, f := range r.Findings {
				if strings.Contains(f.Text+f.Advice, "%!") || strings.Contains(f.Advice, "%%") || strings.Contains(f.Text, "NaN") {
					t.Errorf("%s: %s %s", f.Code, f.Text, f.Advice)
				}
			}
		})
	}
}

func TestRefusedRecords(t *testing.T) {
	good := tone(0)
	spoilt := slices.Clone(good)
	spoilt[7] = math.NaN()
	uneven := stereo(good, good[:100])
	backwards := mono(good)
	backwards.SampleIntervalSeconds = -1
	for name, r := range map[string]audio.Record{
		"no channel": {SampleIntervalSeconds: 1}, "no samples": mono(nil), "one sample": mono(good[:1]), "not a number": mono(spoilt),
		"infinite": mono([]float64{1, math.Inf(1), 2}), "uneven": uneven, "interval": backwards,
	} {
		if _, err := audio.Analyse(r, audio.Options{}); !errors.Is(err, audio.ErrRecord) {
			t.Errorf("%s: %v", name, err)
		}
	}
	for name, o := range map[string]audio.Options{
		"mains": {MainsHertz: 55}, "tone": {ToneHertz: math.NaN()}, "limits": {Limits: audio.Limits{HumDecibels: -1}},
		"pair": {Limits: audio.Limits{BalancePassDecibels: 3, BalanceFailDecibels: 1}},
	} {
		if _, err := audio.Analyse(mono(good), o); err == nil {
			t.Errorf("%s: accepted", name)
		}
	}
}

// TestHumLines: three lines add up as A-21 says, at the mains frequency that they
// really have (A-24: 50 Hz give or take 1 %).
func TestHumLines(t *testing.T) {
	c := first(t, made{seconds: 5, sines: []sine{{0.5, 1000, 0}, {1e-3, 50.3, 0}, {2e-3, 100.6, 1}, {0.5e-3, 150.9, 2}}, noise: 1e-5}.volts())
	within(t, "hum", c.HumVolts.Value, 2.291288e-3, allowed)
	if len(c.Hum) != 3 || c.MainsHertz != 50 {
		t.Fatalf("%d lines of %v Hz: %+v", len(c.Hum), c.MainsHertz, c.Hum)
	}
	for i, want := range []float64{1e-3, 2e-3, 0.5e-3} {
		within(t, "line", c.Hum[i].Volts.Value, want, allowed)
		if math.Abs(c.Hum[i].Hertz.Value-50.3*float64(i+1)) > 0.01 {
			t.Errorf("line %d at %v", i+1, c.Hum[i].Hertz)
		}
	}
	if sixty := first(t, made{seconds: 5, sines: []sine{{0.5, 1000, 0}, {1e-3, 119.9, 0}}, noise: 1e-5}.volts()); sixty.MainsHertz != 60 || len(sixty.Hum) != 1 || sixty.Hum[0].Harmonic != 2 {
		t.Errorf("%v Hz, %+v", sixty.MainsHertz, sixty.Hum)
	}
}

// TestBalanceAndPhase: A-26, and a tone that is 30 degrees late on the right.
func TestBalanceAndPhase(t *testing.T) {
	left := made{seconds: 2, sines: []sine{{0.316, 1000, 0}}, noise: 1e-5}.volts()
	right := made{seconds: 2, sines: []sine{{0.280, 1000, -math.Pi / 6}}, noise: 1e-5, seed: 1}.volts()
	b := analyse(t, stereo(left, right), audio.Options{}).Balance
	if math.Abs(b.Decibels.Value-1.0506) > 0.001 {
		t.Errorf("balance %v, want 1.0506 dB", b.Decibels)
	}
	if math.Abs(b.PhaseDegrees.Value-30) > 0.01 {
		t.Errorf("phase %v, want 30 degrees", b.PhaseDegrees)
	}
	if math.Abs(b.Correlation.Value-math.Cos(math.Pi/6)) > 0.001 {
		t.Errorf("correlation %v, want cos 30", b.Correlation)
	}
}

// TestUncertaintyOfNoise: the stated standard uncertainty is how 40 records of the
// same noise scatter.
func TestUncertaintyOfNoise(t *testing.T) {
	var sum, squares, stated float64
	const n = 40
	for seed := range uint64(n) {
		v := first(t, made{seconds: 0.5, noise: 1e-3, seed: seed}.volts()).NoiseVolts
		sum, squares, stated = sum+v.Value, squares+v.Value*v.Value, stated+v.U/n
	}
	scatter := math.Sqrt((squares - sum*sum/n) / (n - 1))
	if ratio := stated / scatter; ratio < 0.65 || ratio > 1.6 {
		t.Errorf("stated %.3g V, records scatter by %.3g V", stated, scatter)
	}
}

func TestJSON(t *testing.T) {
	r := stereo(tone(0), tone(1))
	r.Relative = true
	text, err := json.Marshal(analyse(t, r, audio.Options{Limits: audio.WorkshopLimits()}))
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{`"rms_v":null`, `"level_dbv":null`, `"noise_dbv":null`, `"thd_pct":`, `"hum":[]`, `"level_dbfs":-10.0`, `"channel":"right"`, `"relative_to_full_scale":true`} {
		if !strings.Contains(string(text), want) {
			t.Errorf("no %s in %s", want, text)
		}
	}
}

func TestReadings(t *testing.T) {
	r := analyse(t, stereo(tone(0), scaled(tone(1), 0.5)), audio.Options{})
	at := time.Unix(1, 0)
	seen := map[string]float64{}
	for _, reading := range r.Readings(1, at) {
		if !reading.Measure.Known() || reading.At != at {
			t.Errorf("%+v", reading)
		}
		seen[string(reading.Measure)] = reading.Value
	}
	within(t, "ac-voltage", seen["ac-voltage"], 0.158, allowed)
	if _, ok := seen["hum"]; !ok || len(seen) != 12 || seen["click"] != 0 || seen["dropout"] != 0 {
		t.Errorf("%v", seen)
	}
	if b, ok := r.BalanceReading(at); !ok || math.Abs(b.Value-2) > 0.001 {
		t.Errorf("%+v", b)
	}
	r.Relative = true
	for _, reading := range r.Readings(1, at) {
		if reading.Measure.Unit().Symbol == "V" {
			t.Errorf("volts from a record without: %+v", reading)
		}
	}
	if _, ok := analyse(t, mono(tone(0)), audio.Options{}).BalanceReading(at); ok {
		t.Error("one channel has a balance")
	}
}

// FuzzAnalyse holds that no record of finite samples makes it fail or state an
// uncertainty below 0, and that all of it can be written down.
func FuzzAnalyse(f *testing.F) {
	f.Add([]byte{1, 200, 3, 4, 255, 0}, 1e-4, false, 0.0)
	f.Add([]byte(strings.Repeat("abcdefgh~", 60)), 2e-5, true, 1000.0)
	f.Add([]byte(strings.Repeat("\x00\xff", 500)), 1e-3, true, 50.0)
	f.Fuzz(func(t *testing.T, samples []byte, dt float64, two bool, toneHertz float64) {
		v := make([]float64, len(samples))
		for i, b := range samples {
			v[i] = float64(int(b)-128) / 128
		}
		r := mono(v)
		if two {
			r = stereo(v[:len(v)/2], v[len(v)-len(v)/2:])
		}
		r.SampleIntervalSeconds = dt
		result, err := audio.Analyse(r, audio.Options{ToneHertz: toneHertz, Limits: audio.WorkshopLimits()})
		if err != nil {
			return
		}
		for _, c := range result.Channels {
			for _, m := range []audio.Measured{c.RMSVolts, c.DCVolts, c.PeakVolts, c.NoiseVolts, c.NoiseAVolts, c.ToneVolts, c.THDPercent, c.THDNPercent, c.HumVolts} {
				if m.OK() && !(m.U >= 0) {
					t.Fatalf("%+v in %+v", m, c)
				}
			}
		}
		if _, err := json.Marshal(result); err != nil {
			t.Fatal(err)
		}
		if _, err := audio.Compare(result, result); err != nil {
			t.Fatal(err)
		}
		_, _ = audio.Response(r, 0, toneHertz)
	})
}
