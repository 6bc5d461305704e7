package page

import (
	"math"
	"testing"

	"soakline/checks/audio"
)

// TestSpectrumColumns: no line of a spectrum is lost, wherever the columns are narrower
// or wider than its bins; a tone of 0.5 V rms is -6.02 dBV.
func TestSpectrumColumns(t *testing.T) {
	const bin = 0.7324 // 48 kHz in 65536 parts
	s := audio.Spectrum{BinHertz: bin, Power: make([]float64, 32769)}
	lines := map[int]float64{14: -40, 68: -60, 1365: 20 * math.Log10(0.5), 20000: -120, 20001: -100, 32760: -30}
	for k, dbv := range lines {
		s.Power[k] = math.Pow(10, dbv/10)
	}
	view := viewSpectrum(s)
	if len(view.HighDBV) != len(view.LowDBV) || math.Abs(float64(len(view.HighDBV))-240*math.Log10(2400)) > 1 {
		t.Fatalf("%d and %d columns", len(view.LowDBV), len(view.HighDBV))
	}
	at := func(k int) int { return int(240 * math.Log10(float64(k)*bin/10)) }
	for k, dbv := range lines {
		want := dbv
		if k == 20000 {
			want = lines[20001] // of one column
		}
		if got := view.HighDBV[at(k)]; math.Abs(got-want) > 0.01 {
			t.Errorf("bin %d: %g dBV, want %g", k, got, want)
		}
	}
	if low := view.LowDBV[at(20000)]; low != quietest {
		t.Errorf("beside the line there is nothing, and the least is %g dBV", low)
	}
	for i, high := range view.HighDBV {
		if low := view.LowDBV[i]; math.IsNaN(low) != math.IsNaN(high) || low > high {
			t.Fatalf("column %d: %g to %g", i, low, high)
		}
	}
	if !math.IsNaN(view.HighDBV[at(14)+1]) {
		t.Error("there is a figure between two bins")
	}
	for _, nothing := range []audio.Spectrum{{}, {BinHertz: math.NaN()}} {
		if viewSpectrum(nothing) != nil {
			t.Errorf("a view of %v", nothing)
		}
	}
	if short := viewSpectrum(audio.Spectrum{BinHertz: 1, Power: []float64{1, 1}}); len(short.HighDBV) != 0 {
		t.Errorf("up to 1 Hz there are %d columns", len(short.HighDBV))
	}
}
