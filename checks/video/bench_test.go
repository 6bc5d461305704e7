package video_test

import (
	"testing"

	"soakline/checks/video"
)

// million is a record of 1,000,000 points: 625 lines at 25 MS/s with field blanking,
// or some 15 lines at 1 GS/s.
func million(rate float64) video.Record {
	s := base(std625(), bars(1, 0.75, 0.7))
	s.rate, s.noise = rate, 0.005
	if rate < 1e8 {
		s.fieldLines = 312
	}
	s.lines = int(1e6/(rate*s.standard.period)) + 1
	v := record(s)
	v.Volts = v.Volts[:1_000_000]
	return v
}

// plainPass is what the speed is compared with: one pass of smallest, largest, mean
// and a histogram of 256 bins over the scope's range.
func plainPass(r video.Record) (low, high, mean float64, bins [256]int) {
	low, high = r.Volts[0], r.Volts[0]
	scale := 256 / (r.HighVolts - r.LowVolts)
	var sum float64
	for _, x := range r.Volts {
		if x < low {
			low = x
		}
		if x > high {
			high = x
		}
		sum += x
		bins[min(max(0, int((x-r.LowVolts)*scale)), 255)]++
	}
	return low, high, sum / float64(len(r.Volts)), bins
}

func BenchmarkPlainPassMillion(b *testing.B) {
	r := million(25e6)
	b.ReportAllocs()
	for b.Loop() {
		plainPass(r)
	}
}

func benchmarkMillion(b *testing.B, rate float64) {
	r := million(rate)
	o := video.Options{Limits: video.WorkshopLimits()}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := video.Analyse(r, o); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkAnalyseMillion25MSps(b *testing.B) { benchmarkMillion(b, 25e6) }
func BenchmarkAnalyseMillion1GSps(b *testing.B)  { benchmarkMillion(b, 1e9) }

func BenchmarkAnalyseMillion8MSps(b *testing.B) { benchmarkMillion(b, 8e6) }

func BenchmarkAnalyseLine5000(b *testing.B) {
	s := base(std625(), staircase(5))
	s.rate, s.noise, s.lines = 50e6, 0.005, 2
	r := record(s)
	r.Volts = r.Volts[:5000]
	o := video.Options{Limits: video.WorkshopLimits()}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := video.Analyse(r, o); err != nil {
			b.Fatal(err)
		}
	}
}
