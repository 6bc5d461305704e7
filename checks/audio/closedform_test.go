package audio_test

import (
	"math"
	"testing"

	"soakline/checks/audio"
)

// allowed is how near every closed form must be met.
const allowed = 0.05 // dB

func square(x float64) float64 {
	if x < 0.5 {
		return 1
	}
	return -1
}

func triangle(x float64) float64 { return 4*math.Abs(x-0.5) - 1 }

func sawtooth(x float64) float64 { return 2*x - 1 }

// pulse is 1 for a tenth of the cycle.
func pulse(x float64) float64 {
	if x < 0.1 {
		return 1
	}
	return 0
}

func TestShapesHaveTheirClosedForms(t *testing.T) {
	tests := []struct {
		name                  string
		wave                  func(float64) float64
		rms, crest, distorted string // rows of spectral_closed_form.csv; empty for none
	}{
		{"sine", func(x float64) float64 { return math.Sin(2 * math.Pi * x) }, "sine_rms", "sine_crest", ""},
		{"square", square, "square_rms", "square_crest", "square_thd_f"},
		{"triangle", triangle, "triangle_rms", "triangle_crest", "triangle_thd_f"},
		{"sawtooth", sawtooth, "triangle_rms", "triangle_crest", "sawtooth_thd_f"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			// 75 Hz has 640 samples a cycle and harmonics up to the 266th below 20 kHz.
			c := first(t, shape(4, 75, tt.wave))
			within(t, "rms", c.RMSVolts.Value, closedForm(t, tt.rms), allowed)
			within(t, "crest factor", c.CrestFactor.Value, closedForm(t, tt.crest), allowed)
			if tt.distorted != "" {
				within(t, "THD", c.THDPercent.Value, 100*closedForm(t, tt.distorted), allowed)
			} else if c.THDPercent.Value > 0.001 {
				t.Errorf("THD %v %%, want none", c.THDPercent)
			}
		})
	}
}

// TestSquareUpToItsHarmonics plays square waves with no more harmonics than a row
// of the table counts.
func TestSquareUpToItsHarmonics(t *testing.T) {
	for id, last := range map[string]int{
		"square_thd_f_to_3": 3, "square_thd_f_to_5": 5, "square_thd_f_to_9": 9, "square_thd_f_to_21": 21, "square_thd_f_to_31": 31,
	} {
		m := made{seconds: 2, noise: 1e-6}
		for h := 1; h <= last; h += 2 {
			m.sines = append(m.sines, sine{1 / float64(h), 440 * float64(h), 0})
		}
		within(t, id, first(t, m.volts()).THDPercent.Value, 100*closedForm(t, id), 0.001)
	}
}

func TestTwoHarmonics(t *testing.T) {
	// 1·sin(f) + 0.01·sin(2f) + 0.005·sin(3f), at a frequency that falls between bins.
	a := math.Sqrt(0.5)
	c := first(t, made{seconds: 3, sines: []sine{{a, 997.3, 0}, {0.01 * a, 2 * 997.3, 1}, {0.005 * a, 3 * 997.3, 2}}}.volts())
	within(t, "THD", c.THDPercent.Value, 100*closedForm(t, "thd_f_two_tone"), allowed)
	within(t, "tone", c.ToneVolts.Value, a, allowed)
	if math.Abs(c.ToneHertz.Value-997.3) > 1e-4 {
		t.Errorf("tone at %v, want 997.3 Hz", c.ToneHertz)
	}
}

// TestTwoTones: what has nothing to do with the tone is noise to it. Power adds
//
func TestTwoTones(t *testing.T) {
	c := first(t, made{seconds: 3, sines: []sine{{0.5, 1000, 0}, {0.005, 1370, 0}}}.volts())
	within(t, "rms", c.RMSVolts.Value, math.Hypot(0.5, 0.005), allowed)
	within(t, "noise", c.NoiseVolts.Value, 0.005, allowed)
	within(t, "THD+N", c.THDNPercent.Value, 1, allowed)
	equal := first(t, made{seconds: 3, sines: []sine{{0.5, 1000, 0}, {0.5, 1370, 0}}}.volts())
	within(t, "two equal tones", equal.RMSVolts.Value, 0.5*math.Pow(10, 3.0103/20), allowed)
}

// TestKnownNoise: white noise of sigma over half the rate has sigma·sqrt(share) in
// the band, and A-28's harmonics and noise together 1.0440 %.
func TestKnownNoise(t *testing.T) {
	share := math.Sqrt((20000 - 20) / (rate / 2.0))
	for seed := range uint64(5) {
		m := made{seconds: 10, sines: []sine{{0.5, 1000, 0}, {0.005, 2000, 0}}, noise: 0.0015 / share, seed: seed}
		c := first(t, m.volts())
		within(t, "noise", c.NoiseVolts.Value, 0.0015, allowed)
		within(t, "THD", c.THDPercent.Value, 1, allowed)
		within(t, "THD+N (A-28)", c.THDNPercent.Value, 1.0440, allowed)
		if want := 20 * math.Log10(0.5/0.0015); math.Abs(c.SNRDecibels.Value-want) > allowed {
			t.Errorf("SNR %v, want %v dB", c.SNRDecibels, want)
		}
	}
}

// TestKnownNoiseWeighted integrates the weighting over the band by itself.
func TestKnownNoiseWeighted(t *testing.T) {
	var sum float64
	for hz := 20.5; hz < 20000; hz++ {
		sum += math.Pow(10, audio.AWeightingDecibels(hz)/10)
	}
	want := 0.001 * math.Sqrt(sum/(rate/2))
	within(t, "noise, weighted A", first(t, made{seconds: 10, noise: 0.001, seed: 3}.volts()).NoiseAVolts.Value, want, allowed)
}

func TestRoundingNoise(t *testing.T) {
	// Full-scale sines of 997 Hz, whose rounding is spread over the whole band
	// (AES17's tone; A-62, from memory).
	share := math.Sqrt((20000 - 20) / (rate / 2.0))
	for id, bits := range map[string]int{"quant_snr_8bit": 8, "quant_snr_10bit": 10, "quant_snr_12bit": 12, "quant_snr_16bit": 16} {
		step := math.Ldexp(1, 1-bits)
		c := first(t, made{seconds: 5, sines: []sine{{(1 - step) / math.Sqrt2, 997, 0}}, step: step}.volts())
		// What rounding leaves in harmonics of 997 Hz counts here as well.
		left := math.Hypot(c.NoiseVolts.Value, c.THDPercent.Value/100*c.ToneVolts.Value) / share
		got, want := 20*math.Log10(c.ToneVolts.Value/left), closedForm(t, id)
		if math.Abs(got-want) > 0.5 { // rounding a sine is not quite white noise: its band's share is not exact
			t.Errorf("%s: %.2f dB, want %.2f", id, got, want)
		}
	}
}

func TestLevels(t *testing.T) {
	tests := []struct {
		source                   string
		volts                    float64
		dbv, dbu, peak, peakPeak float64
	}{
		{"A-01, A-03", 1, 0, closedForm(t, "dbv_vs_dbu"), math.Sqrt2, 2 * math.Sqrt2},
		{"A-04, A-10", closedForm(t, "dbv_minus10"), -10, -7.7815, 0.447214, 0.894427},
		{"A-05", closedForm(t, "dbu_plus4"), 1.7815, 4, 1.736163, 3.472327},
		{"A-07, EN 50049-1 from memory", 0.5, -6.0206, -3.8021, 0.707107, 1.414214},
		{"A-08, common practice", 2, 6.0206, 8.2391, 2.828427, 5.656854},
	}
	for _, tt := range tests {
		c := first(t, made{seconds: 1, sines: []sine{{tt.volts, 1000, 0}}}.volts())
		for _, f := range []struct {
			what      string
			got, want float64
		}{{"dBV", c.RMSVolts.DBV().Value, tt.dbv}, {"dBu", c.RMSVolts.DBu().Value, tt.dbu}} {
			if math.Abs(f.got-f.want) > 1e-4 {
				t.Errorf("%s: %.5f %s, want %.5f", tt.source, f.got, f.what, f.want)
			}
		}
		within(t, tt.source+" peak", c.PeakVolts.Value, tt.peak, 1e-4)
		within(t, tt.source+" peak to peak", c.PeakToPeakVolts.Value, tt.peakPeak, 1e-4)
	}
}

func TestDCAndSine(t *testing.T) {
	v := made{seconds: 1, sines: []sine{{math.Sqrt(0.5), 1000, 0}}, dc: 0.5}.volts()
	c := first(t, v)
	within(t, "rms with DC", c.TotalRMSVolts.Value, closedForm(t, "dc_plus_sine_rms"), 1e-4)
	within(t, "rms without", c.RMSVolts.Value, math.Sqrt(0.5), 1e-4)
	within(t, "DC", c.DCVolts.Value, 0.5, 1e-4)
	// A 0/1 pulse of a tenth: its crest factor counts from 0 V, ours from the mean.
	p := first(t, shape(2, 100, pulse))
	within(t, "pulse rms", p.TotalRMSVolts.Value, closedForm(t, "pulse_rms_d10"), allowed)
	within(t, "pulse crest factor", p.PeakVolts.Value/p.TotalRMSVolts.Value, closedForm(t, "pulse_crest_d10"), allowed)
}

// TestSignalToNoise: A-20's two examples.
func TestSignalToNoise(t *testing.T) {
	for _, tt := range []struct{ signal, noise, want float64 }{{2, 200e-6, 80}, {0.316228, 100e-6, 70}} {
		got := audio.SignalToNoise(audio.Measured{Value: tt.signal}, audio.Measured{Value: tt.noise})
		if math.Abs(got.Value-tt.want) > 1e-4 {
			t.Errorf("%v V over %v V: %v dB, want %v", tt.signal, tt.noise, got.Value, tt.want)
		}
	}
}
