package drift

import (
	"math/rand/v2"
	"testing"
	"time"
)

// BenchmarkObserve is one reading through all checks: statistics, batches, both
// charts. It must stay below 200 ns and without an allocation.
func BenchmarkObserve(b *testing.B) {
	v := make([]float64, 1<<14)
	noise{"", 0.5, 0}.readings(v, rand.New(rand.NewPCG(1, 1)))
	m := newMonitor(b, soakOptions())
	at := soakBegin
	i := 0
	b.ReportAllocs()
	for b.Loop() {
		m.Observe(at, v[i&(1<<14-1)])
		at = at.Add(time.Second)
		i++
	}
}

// BenchmarkResult is all figures of a long soak at once.
func BenchmarkResult(b *testing.B) {
	m := newMonitor(b, soakOptions())
	random := rand.New(rand.NewPCG(1, 1))
	for i := range 511 * 64 {
		m.Observe(soakBegin.Add(time.Duration(i)*time.Second), random.NormFloat64())
	}
	b.ReportAllocs()
	for b.Loop() {
		m.Result()
	}
}

// BenchmarkTrend is the slope and the time to the limit of the same soak.
func BenchmarkTrend(b *testing.B) {
	m := newMonitor(b, soakOptions())
	random := rand.New(rand.NewPCG(1, 1))
	for i := range 511 * 64 {
		m.Observe(soakBegin.Add(time.Duration(i)*time.Second), random.NormFloat64())
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, _, _, err := m.Trend(); err != nil {
			b.Fatal(err)
		}
	}
}
