package supply

import (
	"encoding/json"
	"errors"
	"math"
	"strings"
	"testing"

	"soakline/checks"
)

// The exact column of the worked table below W-25 (12 V, 1 A, 4700 uF; derived), and
// what the frequency says: twice the mains is full wave, once is a leg that is out.
func TestW22RippleAndItsFrequency(t *testing.T) {
	for _, row := range []struct {
		mains, given float64
		half         bool
		peakToPeak   float64
	}{
		{50, 50, false, 1.739344}, {60, 60, false, 1.476820}, {50, 50, true, 3.690406}, {60, 60, true, 3.116699},
		{50, 0, false, 1.739344}, {60, 0, false, 1.476820}, {50, 0, true, 3.690406}, {60, 0, true, 3.116699},
		{49.7, 50, false, 0}, {60.4, 0, true, 0},
	} {
		at := func(t float64) float64 { return rectified(t+0.0123, 12, row.mains, 1/4700e-6, row.half) }
		r := analysed(t, record(at, 0.4, 20e-6, 1e-3), Options{MainsHertz: row.given})
		if row.peakToPeak > 0 {
			near(t, "W-22 ripple", r.RipplePeakToPeakVolts.Value, row.peakToPeak, 0.005)
			near(t, "mean, W-25", r.DCVolts.Value, 12-row.peakToPeak/2, 0.02)
			near(t, "rms as of a sawtooth, W-25", r.RippleRMSVolts.Value, row.peakToPeak/(2*math.Sqrt(3)), 0.05)
		}
		want := 2 * row.mains
		if row.half {
			want = row.mains
		}
		near(t, "frequency", r.RippleHertz.Value, want, 2e-3)
		if r.HalfWave != row.half || r.FullWave == row.half || has(r.Findings, codeLegOut) != row.half || has(r.Findings, codeFullWave) == row.half {
			t.Errorf("%+v: %+v", row, r.Findings)
		}
		if len(r.Dips) > 0 || r.Start != nil {
			t.Errorf("%+v: ripple was taken for dips %+v or a start %+v", row, r.Dips, r.Start)
		}
	}
}

// W-25: a sawtooth of 1.773 V is 0.5118 V rms (derived).
func TestW25SawtoothRMS(t *testing.T) {
	at := func(t float64) float64 { return 12 - 1.773*math.Mod(t*120, 1) }
	r := analysed(t, record(at, 0.5, 10e-6, 0), Options{MainsHertz: 60})
	near(t, "rms", r.RippleRMSVolts.Value, 0.5118, 2e-3)
	near(t, "peak to peak", r.RipplePeakToPeakVolts.Value, 1.773, 0.01)
	near(t, "mean", r.DCVolts.Value, 12-1.773/2, 1e-3)
}

func TestMeantHalfWaveIsNoFinding(t *testing.T) {
	at := func(t float64) float64 { return rectified(t, 12, 50, 100, true) }
	r := analysed(t, record(at, 0.4, 50e-6, 1e-3), Options{HalfWave: true})
	if has(r.Findings, codeLegOut) || !r.HalfWave {
		t.Errorf("%+v", r.Findings)
	}
}

func TestUnevenLegs(t *testing.T) {
	at := func(t float64) float64 {
		return 10 + math.Sin(2*math.Pi*100*t) + 0.3*math.Sin(2*math.Pi*50*t)
	}
	r := analysed(t, record(at, 0.4, 50e-6, 1e-3), Options{MainsHertz: 50})
	if !has(r.Findings, codeUneven) || !r.FullWave {
		t.Errorf("%+v", r.Findings)
	}
}

// A ripple that does not come from the mains says nothing about the rectifier.
func TestSwitchingRipple(t *testing.T) {
	at := func(t float64) float64 { return 5 + 0.02*math.Sin(2*math.Pi*31234*t) }
	r := analysed(t, record(at, 0.08, 2e-6, 1e-3), Options{MainsHertz: 50})
	near(t, "frequency", r.RippleHertz.Value, 31234, 1e-3)
	near(t, "peak to peak", r.RipplePeakToPeakVolts.Value, 0.04, 0.2)
	if r.FullWave || r.HalfWave {
		t.Errorf("%+v", r)
	}
}

func TestNoRipple(t *testing.T) {
	for name, at := range map[string]func(float64) float64{
		"flat":     func(float64) float64 { return 5 },
		"negative": func(float64) float64 { return -5 },
	} {
		for _, sd := range []float64{0, 1e-3} {
			r := analysed(t, record(at, 0.4, 50e-6, sd), Options{})
			near(t, name, r.DCVolts.Value, at(0), 1e-4)
			if r.RippleHertz.OK() || r.FullWave || r.HalfWave || len(r.Dips) > 0 {
				t.Errorf("%s: %+v", name, r)
			}
		}
	}
}

// An AC-coupled record has no level that could dip; its ripple is what it is.
func TestACCoupledRecord(t *testing.T) {
	for _, half := range []bool{false, true} {
		at := func(t float64) float64 { return rectified(t, 12, 50, 1/4700e-6, half) - 11 }
		r := analysed(t, record(at, 0.4, 20e-6, 1e-3), Options{MainsHertz: 50})
		if len(r.Dips) > 0 || r.Start != nil || r.HalfWave != half {
			t.Errorf("%+v", r)
		}
	}
}

func TestShortRecordSaysSo(t *testing.T) {
	at := func(t float64) float64 { return rectified(t, 12, 50, 100, false) }
	r := analysed(t, record(at, 0.02, 50e-6, 0), Options{MainsHertz: 50})
	if !has(r.Findings, codeShort) || r.FullWave {
		t.Errorf("%+v", r.Findings)
	}
}

// W-02: a 5 V rail keeps to 4.75 to 5.25 V.
func TestLimits(t *testing.T) {
	o := Options{NominalVolts: 5, Limits: Limits{LowVolts: 4.75, HighVolts: 5.25, RipplePeakToPeakVolts: 0.05}}
	for _, row := range []struct {
		level, ripple float64
		code          checks.FindingCode
	}{{5, 0.01, ""}, {4.76, 0.01, ""}, {5.26, 0.01, codeRailHigh}, {4.7, 0.01, codeRailLow}, {5, 0.1, codeRippleHigh}, {0.1, 0, codeNoRail}} {
		at := func(t float64) float64 { return row.level + row.ripple/2*math.Sin(2*math.Pi*100*t) }
		r := analysed(t, record(at, 0.4, 50e-6, 1e-5), o)
		if row.code == "" {
			if r.State != checks.Within {
				t.Errorf("%+v: %+v", row, r.Findings)
			}
			continue
		}
		if !has(r.Findings, row.code) || r.State != checks.Outside {
			t.Errorf("%+v: %+v", row, r.Findings)
		}
	}
}

// W-06: a linear 5 V regulator needs about 7 V at the trough; 12 V less 1.739344 V of
// ripple (W-22) leaves 10.26 V, a third of the capacitance does not leave 9.
func TestW06TroughAboveDropOut(t *testing.T) {
	for farads, low := range map[float64]bool{4700e-6: false, 1570e-6: true} {
		at := func(t float64) float64 { return rectified(t, 12, 50, 1/farads, false) }
		r := analysed(t, record(at, 0.4, 20e-6, 1e-3), Options{Limits: Limits{TroughVolts: 9}})
		if has(r.Findings, codeTroughLow) != low {
			t.Errorf("%g F: trough %+v, %+v", farads, r.TroughVolts, r.Findings)
		}
		if !low {
			near(t, "trough", r.TroughVolts.Value, 12-1.739344, 0.002)
		}
	}
}

func TestDipsInARecord(t *testing.T) {
	at := func(t float64) float64 {
		switch {
		case t >= 0.1 && t < 0.12:
			return 4
		case t >= 0.3 && t < 0.305:
			return 0.1
		}
		return 5
	}
	r := analysed(t, record(at, 0.4, 1e-4, 1e-3), Options{NominalVolts: 5})
	if len(r.Dips) != 2 || !has(r.Findings, codeDropout) || !has(r.Findings, codeBrownOut) {
		t.Fatalf("%+v %+v", r.Dips, r.Findings)
	}
	near(t, "begin", r.Dips[0].BeginSeconds, 0.1, 2e-3)
	near(t, "length", r.Dips[0].Seconds(), 0.02, 0.02)
	near(t, "depth", r.Dips[0].DepthShare, 0.2, 0.01)
	if r.Dips[0].Kind != BrownOut || r.Dips[1].Kind != Dropout {
		t.Errorf("%+v", r.Dips)
	}
	near(t, "level without the dips", r.DCVolts.Value, 5, 1e-3)
}

func TestRecordsRefused(t *testing.T) {
	good := record(func(float64) float64 { return 5 }, 0.1, 1e-4, 0)
	bad := map[string]Record{
		"empty": {SampleIntervalSeconds: 1}, "short": {Volts: make([]float64, 7), SampleIntervalSeconds: 1},
		"no interval": {Volts: good.Volts}, "a NaN": {Volts: append(good.Volts[:100:100], math.NaN()), SampleIntervalSeconds: 1},
		"infinite": {Volts: append(good.Volts[:100:100], math.Inf(1)), SampleIntervalSeconds: 1},
	}
	for name, r := range bad {
		if _, err := Analyse(r, Options{}); !errors.Is(err, ErrRecord) {
			t.Errorf("%s: %v", name, err)
		}
	}
	for _, o := range []Options{{MainsHertz: 55}, {NominalVolts: -5}, {Limits: Limits{LowVolts: 5, HighVolts: 5}}, {Limits: Limits{StartSeconds: math.NaN()}}} {
		if _, err := Analyse(good, o); err == nil {
			t.Errorf("%+v was accepted", o)
		}
	}
}

// The keys are relied on from outside; what was not measured is null.
func TestJSONKeys(t *testing.T) {
	text, err := json.Marshal(analysed(t, record(func(float64) float64 { return 5 }, 0.1, 1e-3, 0), Options{}))
	if err != nil {
		t.Fatal(err)
	}
	const want = `{"dc_v":5,"ripple_pp_v":0,"ripple_rms_v":0,"ripple_hz":null,"capacitance_f":null,"esr_ohm":null,"dropouts":[],"findings":[`
	if !strings.HasPrefix(string(text), want) {
		t.Errorf("%s", text)
	}
}

func FuzzAnalyse(f *testing.F) {
	f.Add(5.0, 0.1, 100.0, 1e-4, 300, 100)
	f.Add(-1e9, 1e300, math.Inf(1), 1e-300, 9, 3)
	f.Fuzz(func(t *testing.T, level, ripple, hertz, interval float64, n, dip int) {
		v := make([]float64, min(max(n, 0), 4000))
		for i := range v {
			v[i] = level + ripple*math.Sin(2*math.Pi*hertz*interval*float64(i))
			if i > dip && i < dip+20 {
				v[i] = 0
			}
		}
		r, err := Analyse(Record{Volts: v, SampleIntervalSeconds: interval}, Options{})
		if err != nil {
			return
		}
		if _, err := json.Marshal(r); err != nil || !(r.RipplePeakToPeakVolts.Value >= 0) {
			t.Fatalf("%+v %v", r, err)
		}
	})
}

func BenchmarkAnalyse(b *testing.B) {
	r := record(func(t float64) float64 { return rectified(t, 12, 50, 100, false) }, 1, 10e-6, 1e-3)
	for b.Loop() {
		if _, err := Analyse(r, Options{}); err != nil {
			b.Fatal(err)
		}
	}
}
