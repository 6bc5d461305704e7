package device

import (
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"strconv"
	"strings"
	"testing"
)

// table prints n samples of a sine with a verb each for time and volts.
func table(n int, interval, start float64, verbs string, volts func(i int) float64) string {
	var b strings.Builder
	for i := range n {
		fmt.Fprintf(&b, verbs, start+float64(i)*interval, volts(i))
	}
	return b.String()
}

func sine(i int) float64 { return 0.5 * math.Sin(float64(i)/20) }

func TestReadRecordBearsRoundedTimes(t *testing.T) {
	tests := []struct {
		name            string
		interval, start float64
		verbs           string
		relative        float64
	}{
		{"fixed decimals", 4e-8, -1e-4, "%.9f,%.4f\n", 1e-5},
		{"1.6 ns printed to 1 ns", 1.6e-9, 0, "%.9f,%.4f\n", 2e-4},
		{"1.6 ns printed to 1 ns, off zero", 1.6e-9, -7.3e-7, "%.9f,%.4f\n", 2e-4},
		{"six digits", 4e-8, -1e-4, "%.5e,%.4e\n", 1e-4},
		{"shortest", 4e-8, 0, "%.6g,%.4g\n", 1e-6},
		{"a third", 1.0 / 3, 0, "%.2f,%.3f\n", 1e-4},
		{"single precision", 2e-9, -5e-6, "%.10e,%.4f\n", 1e-4},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got, err := read(table(5000, tt.interval, tt.start, tt.verbs, sine), RecordOptions{})
			if err != nil {
				t.Fatal(err)
			}
			if math.Abs(got.SampleIntervalSeconds/tt.interval-1) > tt.relative || len(got.Volts) != 5000 {
				t.Errorf("%d samples every %v, want %v", len(got.Volts), got.SampleIntervalSeconds, tt.interval)
			}
		})
	}
}

// Times kept in single precision are off by up to half a step of 2^-24, which the
// decimals printed do not show.
func TestReadRecordBearsSinglePrecisionTimes(t *testing.T) {
	var b strings.Builder
	for i := range 4000 {
		at := float32(-1e-4) + float32(i)*float32(4e-8)
		b.WriteString(strconv.FormatFloat(float64(at), 'e', 9, 64) + ",1\n")
	}
	got, err := read(b.String(), RecordOptions{})
	if err != nil || math.Abs(got.SampleIntervalSeconds/4e-8-1) > 1e-4 {
		t.Errorf("%v, %v", got.SampleIntervalSeconds, err)
	}
}

func TestReadRecordFindsAMissingSampleAnywhere(t *testing.T) {
	for _, verbs := range []string{"%.9f,%.4f\n", "%.5e,%.4f\n", "%.8f,%.4f\n"} {
		for _, missing := range []int{1, 2, 3, 100, 1998} {
			lines := strings.SplitAfter(table(2000, 4e-8, 0, verbs, sine), "\n")
			text := strings.Join(append(lines[:missing:missing], lines[missing+1:]...), "")
			if got, err := read(text, RecordOptions{}); err == nil {
				t.Errorf("%q without sample %d: %d samples every %v", verbs, missing, len(got.Volts), got.SampleIntervalSeconds)
			}
		}
	}
}

func TestQuantisationStep(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	quantised := func(step float64, n int, offset float64) []float64 {
		v := make([]float64, n)
		for i := range v {
			v[i] = offset + step*math.Round(sine(i)/step)
		}
		return v
	}
	rounded := quantised(1.0/128, 2000, 0)
	for i := range rounded {
		rounded[i] = math.Round(rounded[i]*1e4) / 1e4
	}
	noise := make([]float64, 4000)
	for i := range noise {
		noise[i] = rng.NormFloat64()
	}
	sparse := quantised(0.01, 4000, 0)
	for i := range sparse {
		sparse[i] *= 7 // levels only every seventh code: still one grid
	}
	tests := []struct {
		name  string
		volts []float64
		want  float64
	}{
		{"8 bits", quantised(1.0/128, 2000, 0), 1.0 / 128},
		{"8 bits with an offset", quantised(0.004, 2000, 0.1234), 0.004},
		{"printed to four decimals", rounded, 1.0 / 128},
		{"a long record is thinned", quantised(0.004, 300000, 0), 0.004},
		{"wider grid", sparse, 0.07},
		{"noise has no step", noise, 0},
		{"flat", make([]float64, 1000), 0},
		{"two levels tell nothing", []float64{0, 1, 0, 1, 0, 1, 0, 1, 0, 1, 0, 1}, 0},
		{"off the grid", []float64{0, 0, 0, 0, 1, 1, 1, 1, 2.5, 2.5, 2.5, 2.5, 4.1, 4.1, 4.1, 4.1}, 0},
		{"none", nil, 0},
	}
	for _, tt := range tests {
		if got := quantisationStep(tt.volts); math.Abs(got-tt.want) > 0.002*tt.want {
			t.Errorf("%s: %v, want %v", tt.name, got, tt.want)
		}
	}
}

func TestReadRecordOfNoiseTakesLittleMoreThanItsSamples(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	const n = 400000
	text := table(n, 4e-8, 0, "%.8f,%.6f\n", func(int) float64 { return rng.NormFloat64() })
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	got, err := read(text, RecordOptions{})
	runtime.ReadMemStats(&after)
	if err != nil || len(got.Volts) != n {
		t.Fatalf("%d samples, %v", len(got.Volts), err)
	}
	// Growing by a quarter allocates five times the samples over time, of which at
	// most two and a quarter live at once.
	if bytes, most := after.TotalAlloc-before.TotalAlloc, uint64(8*n*7); bytes > most {
		t.Errorf("%d bytes allocated for %d samples, at most %d", bytes, n, most)
	}
	if count := after.Mallocs - before.Mallocs; count > n/20 {
		t.Errorf("%d allocations for %d lines: something is allocated per line", count, n)
	}
}

func BenchmarkReadRecord(b *testing.B) {
	rng := rand.New(rand.NewPCG(5, 6))
	noise := func(int) float64 { return rng.NormFloat64() }
	for name, text := range map[string]string{
		"comma":     table(1<<18, 4e-8, 0, "%.8f,%.6f\n", noise),
		"exponents": table(1<<18, 4e-8, 0, "%.6e,%.5e\n", noise),
		"semicolon": strings.ReplaceAll(table(1<<18, 4e-8, 0, "%.8f;%.6f\n", noise), ".", ","),
	} {
		b.Run(name, func(b *testing.B) {
			b.SetBytes(int64(len(text)))
			b.ReportAllocs()
			for b.Loop() {
				if _, err := read(text, RecordOptions{}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
