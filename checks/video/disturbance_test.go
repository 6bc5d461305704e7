package video_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"soakline/checks/video"
)

// With coarse quantisation and no noise a flat part sits on one code: the level is off
// by up to half a code, and the uncertainty must cover that. The range is shifted by
// parts of a code so that levels lie everywhere between codes.
func TestQuantisationIsInTheUncertainty(t *testing.T) {
	worst := 0.0
	for k := range 16 {
		s := base(std625(), windowPicture)
		s.low, s.high = -1.0, 1.55
		shift := float64(k) / 16 * 2.55 / 63
		s.low, s.high, s.bits = s.low+shift, s.high+shift, 6
		r := analyse(t, s, video.Options{})
		step := s.step()
		for _, level := range []struct {
			what string
			m    video.Measured
			want float64
		}{{"sync tip", r.SyncTipVolts, -0.3}, {"blanking", r.BlankingVolts, 0}, {"white", r.WhiteVolts, 0.7}} {
			off := math.Abs(level.m.Value - level.want)
			worst = math.Max(worst, off)
			if off > 0.55*step || off > 2*level.m.U {
				t.Errorf("%s is %g ± %g, truth %g, step %g", level.what, level.m.Value, 2*level.m.U, level.want, step)
			}
		}
		if r.NoiseVolts.Value+2*r.NoiseVolts.U < step/2 {
			t.Errorf("noise %g ± %g on one code of %g: the uncertainty hides the code", r.NoiseVolts.Value, r.NoiseVolts.U, step)
		}
	}
	if worst < 0.01 {
		t.Errorf("levels were off by %g at most: the scene does not try what it should", worst)
	}
}

// With enough noise the codes are dithered, and the mean is better than a code.
func TestNoiseDithersCodes(t *testing.T) {
	s := base(std625(), windowPicture)
	s.low, s.high, s.bits, s.noise = -1.0, 1.55, 8, 0.010
	r := analyse(t, s, video.Options{})
	near(t, "sync", r.SyncVolts, 0.3, 0.002, "a fifth of a code")
	if !(r.SyncVolts.U < 0.25*s.step()) {
		t.Errorf("uncertainty %g of sync, code %g", r.SyncVolts.U, s.step())
	}
}

// Ringing raises and low-pass lowers the burst; levels stay (trap of using it as a
// level measure).
func TestRingingAndLowPassChangeTheBurst(t *testing.T) {
	s := base(std625(), white)
	s.noise, s.high = 0.003, 1.3
	s.fn, s.zeta = 5.5e6, 0.3
	r := analyse(t, s, video.Options{})
	if !(r.BurstPeakToPeakVolts.Value > 0.36) {
		t.Errorf("burst %g with ringing, want above 0.36 V", r.BurstPeakToPeakVolts.Value)
	}
	near(t, "luma with ringing", r.LumaPeakToPeakVolts, 1, 0.01, "ringing moves no level")
	overshoot, _ := s.truthOfEdge()
	near(t, "overshoot", r.OvershootPercent, overshoot, 2, "made so")
	wantCodes(t, r, "ringing", "overshoot")

	s.fn, s.lowPass = 0, 2e6
	r = analyse(t, s, video.Options{})
	if !(r.BurstPeakToPeakVolts.Value < 0.2) {
		t.Errorf("burst %g behind 2 MHz, want below 0.2 V", r.BurstPeakToPeakVolts.Value)
	}
	near(t, "luma behind low-pass", r.LumaPeakToPeakVolts, 1, 0.01, "low-pass moves no level")
	wantCodes(t, r, "low-pass", "soft-edges", "burst-low")
	near(t, "bandwidth in MHz", video.Measured{Value: r.BandwidthHertz.Value / 1e6}, 2, 0.35, "P-20, edge and pole together")
}

func TestTilt(t *testing.T) {
	for _, tilt := range []float64{0, 0.02, 0.058, 0.1} {
		s := base(std625(), white)
		s.noise, s.tilt, s.high, s.lines = 0.004, tilt, 1.2, 10
		r := analyse(t, s, video.Options{})
		near(t, "tilt in %", r.TiltPercent, 100*tilt, 0.3, "made so")
		near(t, "white", r.WhiteVolts, 0.7, 0.01, "the middle of the line")
		if have := codesOf(r)["tilt"]; have != (tilt > 0.03) {
			t.Errorf("tilt %g: finding is %v", tilt, have)
		}
	}
}

func TestTones(t *testing.T) {
	for _, row := range []struct{ rms, hertz float64 }{{0.004, 0.9e6}, {0.005, 2e6}, {0.003, 6.75e6}, {0.006, 8.86e6}, {0.010, 10.7e6}, {0.02, 3.1e6}} {
		for name, picture := range map[string]func(int) []patch{"white": white, "bars": bars(1, 0.75, 0.7), "stripes": stripes(16, 0, 1)} {
			s := base(std625(), picture)
			s.noise, s.tone, s.toneHz, s.lines, s.high, s.bits = 0.003, row.rms, row.hertz, 10, 1.2, 10
			r := analyse(t, s, video.Options{})
			if len(r.Tones) == 0 {
				t.Errorf("%s: tone of %g V at %g Hz was not found", name, row.rms, row.hertz)
				continue
			}
			near(t, name+" tone", r.Tones[0].RMSVolts, row.rms, 0.15*row.rms, "made so")
			near(t, name+" tone at", r.Tones[0].Hertz, row.hertz, 0.1e6, "made so")
			near(t, name+" noise", r.NoiseVolts, 0.003, 0.0003, "without the tone")
			if len(r.Tones) != 1 {
				t.Errorf("%s: %d tones, want 1: %v", name, len(r.Tones), r.Tones)
			}
		}
	}
}

// Noise alone shows no tone; its figure comes with a bandwidth.
func TestNoiseIsNoTone(t *testing.T) {
	wrong := 0
	for seed := range uint64(60) {
		s := base(std625(), white)
		s.noise, s.seed, s.lines = 0.012, seed, 2+int(seed%9)
		r := analyse(t, s, video.Options{})
		wrong += len(r.Tones)
		near(t, "noise", r.NoiseVolts, 0.012, 0.0012, "made so")
		if r.NoiseBandwidthHertz != 12.5e6 {
			t.Errorf("noise bandwidth %g Hz, want half the sample rate", r.NoiseBandwidthHertz)
		}
		if !codesOf(r)["noisy"] {
			t.Errorf("12 mV is not called noisy: %v", codesOf(r))
		}
	}
	if wrong > 0 {
		t.Errorf("%d tones in 60 records of noise", wrong)
	}
}

func TestHumInAFrame(t *testing.T) {
	t.Parallel()
	for _, row := range []struct{ hum, hertz float64 }{{0, 50}, {0.02, 50}, {0.1, 50}, {0.3, 50}, {0.1, 60}, {0.08, 100}} {
		s := wide(std625(), game)
		s.fieldLines, s.lines = 312, 640
		s.hum, s.humHz, s.humPhase = row.hum, row.hertz, 1.1
		r := analyse(t, s, video.Options{})
		near(t, "hum", r.HumVolts, row.hum, math.Max(0.003, 0.03*row.hum), "made so")
		near(t, "sync under hum", r.SyncVolts, 0.3, 0.003, "line by line")
		near(t, "white less blanking", r.PictureVolts, 0.7, 0.005, "line by line")
		if row.hum > 0.05 {
			near(t, "hum at", video.Measured{Value: r.HumHertz}, row.hertz, 1, "made so")
		}
		if have := codesOf(r)["hum"]; have != (row.hum > 0.03) {
			t.Errorf("hum of %g: finding is %v", row.hum, have)
		}
	}
}

// Short captures one after another show hum that one line cannot.
func TestHumOverASeries(t *testing.T) {
	random := rand.New(rand.NewPCG(50, 60))
	for _, hertz := range []float64{50, 60} {
		var shots []video.Shot
		at := 0.0
		for range 24 {
			at += 0.05 + 0.2*random.Float64()
			s := wide(std625(), white)
			s.lines, s.hum, s.humHz, s.startTime = 3, 0.08, hertz, at
			shots = append(shots, video.Shot{Record: record(s), StartSeconds: at})
		}
		one := analyse(t, wide(std625(), white), video.Options{})
		notMeasured(t, "hum of three lines", one.HumVolts, "much shorter than a mains cycle")
		series, err := video.AnalyseSeries(shots, video.Options{Limits: video.WorkshopLimits()})
		if err != nil {
			t.Fatal(err)
		}
		near(t, "hum", series.HumVolts, 0.08, 0.008, "made so")
		near(t, "hum at", video.Measured{Value: series.HumHertz}, hertz, 0.5, "made so")
		if len(series.Each) != len(shots) || len(series.Findings) != 1 || series.Findings[0].Code != "hum" {
			t.Errorf("%d results, findings %v", len(series.Each), series.Findings)
		}
	}
}

func TestSeriesWrongInput(t *testing.T) {
	good := video.Shot{Record: record(wide(std625(), white))}
	for name, shots := range map[string][]video.Shot{
		"empty":     nil,
		"same time": {good, good},
		"no record": {{}},
		"NaN time":  {{Record: good.Record, StartSeconds: math.NaN()}},
	} {
		if _, err := video.AnalyseSeries(shots, video.Options{}); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
	s, err := video.AnalyseSeries([]video.Shot{good}, video.Options{})
	if err != nil || s.HumVolts.OK() {
		t.Errorf("one shot: hum %v, error %v", s.HumVolts, err)
	}
}

// Behind a series capacitor into 150 ohm blanking moves with the picture, from field to
// field and, if the capacitor has become small, along the line: V-80 to V-82. Amplitudes
// are measured line by line and hold.
func TestOutputCapacitor(t *testing.T) {
	t.Parallel()
	halves := func(n int) []patch {
		if n%312 < 150 {
			return white(n)
		}
		return black(n)
	}
	for _, microfarad := range []float64{220, 22, 7} {
		s := wide(std625(), halves)
		s.fieldLines, s.lines = 312, 640
		rc := 150 * microfarad * 1e-6
		s.highPass = 1 / (2 * math.Pi * rc)
		r := analyse(t, s, video.Options{})
		near(t, "sync", r.SyncVolts, 0.3, 0.005, "line by line")
		near(t, "luma", r.LumaPeakToPeakVolts, 1, 0.012, "line by line")
		// White sags by its height over the mean: from 700 mV on the first line after
		// black to 700 - 546 mV (V-83) once the capacitor has followed.
		least, most := 100*(0.7-0.546)/0.7*51.95*us/rc, 100*51.95*us/rc
		if sag := r.TiltPercent.Value; !(sag > least-0.15 && sag < most+0.15) {
			t.Errorf("%g uF: tilt %g %%, want %.2g to %.2g", microfarad, sag, least, most)
		}
	}
}

// Codes of 39 and 78 mV, with noise far below: no figure is far off, none is called
// wrong with certainty.
func TestCoarseCodes(t *testing.T) {
	for _, span := range []float64{10, 20} {
		for _, d := range []standard{std625(), std525()} {
			s := base(d, game)
			s.low, s.high, s.noise = -0.4*span, 0.6*span, 0.005
			r := analyse(t, s, video.Options{})
			near(t, "sync", r.SyncVolts, d.sync, 0.55*s.step()*1.42, "half a code on either side")
			if r.State == "outside" {
				t.Errorf("%s, codes of %g V: %v", d.name, s.step(), r.Findings)
			}
		}
	}
}

// A weak burst, and none: V-05; and a picture with squashed white, known to be there.
func TestPartsOfTheLevel(t *testing.T) {
	d := std625()
	d.burstPP = 0.15
	wantCodes(t, analyse(t, wide(d, windowPicture), video.Options{}), "half a burst", "burst-low")
	d = std625()
	s := wide(d, windowPicture)
	s.noBurst = true
	r := analyse(t, s, video.Options{})
	wantCodes(t, r, "no burst", "no-burst")
	notMeasured(t, "burst", r.BurstPeakToPeakVolts, "there is none")
	notMeasured(t, "burst frequency", r.BurstHertz, "there is none")
	d.sync = 0.2
	r = analyse(t, wide(d, windowPicture), video.Options{})
	if have := codesOf(r); !have["sync-low"] || have["looks-double-terminated"] {
		t.Errorf("sync 200 mV with white 700 mV: %v", have)
	}
	d = std625()
	squashed := func(line int) []patch {
		p := windowPicture(line)
		p[1].luma = 0.8
		return p
	}
	wantCodes(t, analyse(t, wide(d, squashed), video.Options{PictureHasWhite: true}), "white at 80 %", "white-compressed", "level-low")
	r = analyse(t, wide(d, squashed), video.Options{})
	wantCodes(t, r, "a light grey")
	notMeasured(t, "white", r.WhiteVolts, "80 % may be a grey")
}
