package audio

import (
	"encoding/csv"
	"math"
	"math/cmplx"
	"os"
	"strconv"
	"strings"
	"testing"

	"gonum.org/v1/gonum/dsp/fourier"
	"gonum.org/v1/gonum/dsp/window"
)

func table(t *testing.T, name string) [][]string {
	t.Helper()
	file, err := os.Open("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	all, err := csv.NewReader(file).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return all[1:]
}

func parsed(t *testing.T, text string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

// TestAWeightingTable holds the class 1 tolerance at the table's frequencies (IEC
// 61672-1:2013, table 3, from memory), and much nearer, the table's own rounding.
func TestAWeightingTable(t *testing.T) {
	for _, row := range table(t, "a_weighting.csv") {
		exact := math.Pow(10, parsed(t, row[1])/10)
		off := AWeightingDecibels(exact) - parsed(t, row[2])
		if off > parsed(t, row[3]) || off < -parsed(t, row[4]) {
			t.Errorf("%s Hz: %+.2f dB off, class 1 allows +%s and -%s", row[0], off, row[3], row[4])
		}
		if math.Abs(off) > 0.06 {
			t.Errorf("%s Hz: %+.3f dB off the table, which is rounded to 0.1", row[0], off)
		}
	}
}

// TestAWeightingFormula: values computed from the analogue transfer function with
// poles at 20.6, 107.7, 737.9 and 12194 Hz (IEC 61672-1; the formula from memory).
func TestAWeightingFormula(t *testing.T) {
	for hertz, want := range map[float64]float64{
		20: -50.39, 50: -30.27, 60: -27.05, 100: -19.14, 120: -16.71, 150: -13.98, 250: -8.67,
		500: -3.25, 1000: 0, 2000: 1.20, 4000: 0.96, 10000: -2.49, 15734: -6.52, 20000: -9.35,
	} {
		if got := AWeightingDecibels(hertz); math.Abs(got-want) > 0.011 {
			t.Errorf("%v Hz: %.3f dB, want %.2f", hertz, got, want)
		}
	}
}

// TestWindowFigures: noise bandwidth of the periodic form, exactly 1.5 for Hann
// (windows.csv, derived).
func TestWindowFigures(t *testing.T) {
	if got := hann.noiseBandwidthBins(); got != 1.5 {
		t.Errorf("Hann: %v bins, want exactly 1.5", got)
	}
	for _, row := range table(t, "windows.csv") {
		var w cosineWindow
		terms := strings.Fields(row[1])
		if len(terms) > len(w) {
			continue
		}
		for i, term := range terms {
			w[i] = parsed(t, term)
		}
		if got, want := w.noiseBandwidthBins(), parsed(t, row[3]); math.Abs(got-want) > 1e-9*want {
			t.Errorf("%s: %v bins, want %v", row[0], got, want)
		}
		if got, want := w[0], parsed(t, row[2]); got != want {
			t.Errorf("%s: coherent gain %v, want %v", row[0], got, want)
		}
	}
}

// TestWindowOnTheSpectrum compares the window laid on the spectrum with the same
// window laid on the samples by the library, whose symmetric form of n+1 points is
// the periodic one of n.
func TestWindowOnTheSpectrum(t *testing.T) {
	for _, tt := range []struct {
		name  string
		ours  cosineWindow
		their func([]float64) []float64
	}{{"hann", hann, window.Hann}, {"steep", steep, window.Nuttall}} {
		for _, n := range []int{64, 90, 1000} {
			samples, windowed := make([]float64, n), make([]float64, n+1)
			for i := range windowed {
				windowed[i] = math.Sin(float64(i*i)) + 0.3
			}
			copy(samples, windowed)
			windowed = tt.their(windowed)[:n]
			fft := fourier.NewFFT(n)
			x, want := fft.Coefficients(nil, samples), fft.Coefficients(nil, windowed)
			for k := range x {
				if got := tt.ours.apply(x, n, k); cmplx.Abs(got-want[k]) > 1e-10*float64(n) {
					t.Fatalf("%s of %d, bin %d: %v, want %v", tt.name, n, k, got, want[k])
				}
			}
		}
	}
}

// TestSpectrumHoldsThePower: over all bins the power is the mean square (Parseval).
func TestSpectrumHoldsThePower(t *testing.T) {
	for _, n := range []int{1 << 12, 5000, 1 << 15} {
		v := make([]float64, n)
		var square float64
		for i := range v {
			v[i] = math.Sqrt2 * math.Sin(float64(i)*0.7)
			square += v[i] * v[i] / float64(n)
		}
		var sum float64
		for _, p := range newSpectrum(v, 0, 1).Power {
			sum += p
		}
		if math.Abs(sum/square-1) > 1e-3 {
			t.Errorf("%d samples: %v in all bins, want %v", n, sum, square)
		}
	}
}
