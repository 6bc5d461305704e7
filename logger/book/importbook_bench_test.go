package book

import (
	"runtime"
	"testing"
)

// heapInUse is how much of the heap is in use, what is garbage included.
func heapInUse() float64 {
	var stats runtime.MemStats
	runtime.ReadMemStats(&stats)
	return float64(stats.HeapInuse)
}

// BenchmarkImportBook takes a book of 16 test points over, readings by the million.
func BenchmarkImportBook(b *testing.B) {
	const million = 1_000_000
	from := openNew(b)
	w := newWorkload(1)
	for range 4 {
		write(b, from, w.read(million/2)...)
	}
	runtime.GC()
	for b.Loop() {
		into := openNew(b)
		before, most := heapInUse(), 0.0
		done, err := into.ImportBook(b.Context(), from, BookImport{}, func(int64, int64) { most = max(most, heapInUse()) })
		if err != nil || done.Readings != 2*million {
			b.Fatalf("%+v (%v)", done, err)
		}
		b.ReportMetric((most-before)/1e6, "MB")
	}
	b.ReportMetric(2*million*float64(b.N)/b.Elapsed().Seconds(), "readings/s")
}
