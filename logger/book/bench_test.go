package book

import (
	"io"
	"math/rand/v2"
	"testing"
	"time"

	"soakline/checks"
	"soakline/device"
	"soakline/device/scpi"
)

// workload is what a bench of 16 test points reads in the time that n readings
// take at 10 readings/s each: 6-digit values that walk, with noise on the last
// digits and up to 2 ms of jitter on the times. The same seed gives the same
// readings.
func workload(seed uint64, n int) []TaggedReading {
	const points = 16
	random := rand.New(rand.NewPCG(seed, 1))
	var level [points]int64
	readings := make([]TaggedReading, n)
	for i := range readings {
		p := i % points
		level[p] += random.Int64N(3) - 1
		d := scpi.NewDecimal(501210+int64(p)*1000+level[p]+random.Int64N(20), -5)
		tag := rail
		tag.TestPoint = checks.TestPointName("tp-" + string(rune('a'+p)))
		at := begin.Add(time.Duration(i/points)*100*time.Millisecond + time.Duration(200+random.Int64N(1800))*time.Microsecond)
		readings[i] = TaggedReading{tag, device.Reading{
			Measure: tag.Measure, Value: d.Float64(), Digits: d, At: at, StandardUncertainty: 1e-4 + d.Float64()*2e-5,
		}}
	}
	return readings
}

// BenchmarkAppend commits batches of 10,000 readings, as they come at full speed.
func BenchmarkAppend(b *testing.B) {
	const batchSize = 10000
	book := openNew(b)
	readings := workload(1, batchSize)
	tails := map[Tag]*seriesTail{}
	b.ResetTimer()
	for range b.N {
		b.StopTimer()
		for i := range readings {
			readings[i].At = readings[i].At.Add(batchSize / 16 * 100 * time.Millisecond)
		}
		b.StartTimer()
		if _, err := book.store(b.Context(), &batch{readings: readings}, tails); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.N)*batchSize/b.Elapsed().Seconds(), "readings/s")
	if info, err := book.Info(b.Context()); err == nil {
		b.ReportMetric(float64(info.FileBytes)/float64(info.Readings), "B/reading")
	}
}

// BenchmarkLiveCommit commits what a bench reads in a second: 160 readings.
func BenchmarkLiveCommit(b *testing.B) {
	book := openNew(b)
	readings := workload(1, 160)
	tails := map[Tag]*seriesTail{}
	for b.Loop() {
		for i := range readings {
			readings[i].At = readings[i].At.Add(time.Second)
		}
		if _, err := book.store(b.Context(), &batch{readings: readings}, tails); err != nil {
			b.Fatal(err)
		}
	}
}

// scanned is a book with 160,000 readings in 16 series.
func scanned(b *testing.B) *Book {
	b.Helper()
	const n = 160_000
	book := openNew(b)
	if _, err := book.store(b.Context(), &batch{readings: workload(2, n)}, map[Tag]*seriesTail{}); err != nil {
		b.Fatal(err)
	}
	return book
}

// BenchmarkScan streams readings in time order, as judging does.
func BenchmarkScan(b *testing.B) {
	book := scanned(b)
	n := 0
	for b.Loop() {
		for _, err := range book.Readings(b.Context(), Filter{}) {
			if err != nil {
				b.Fatal(err)
			}
			n++
		}
	}
	b.ReportMetric(float64(n)/b.Elapsed().Seconds(), "readings/s")
}

// BenchmarkExportLines writes line protocol to nowhere.
func BenchmarkExportLines(b *testing.B) {
	book := scanned(b)
	n := 0
	for b.Loop() {
		count, err := book.ExportLines(b.Context(), io.Discard, Filter{})
		if err != nil {
			b.Fatal(err)
		}
		n += int(count.Readings)
	}
	b.ReportMetric(float64(n)/b.Elapsed().Seconds(), "readings/s")
}

// BenchmarkWriterAppend is what the bench waits for when it hands a reading over.
func BenchmarkWriterAppend(b *testing.B) {
	w := NewWriter(openNew(b), WriterOptions{})
	readings := workload(3, 1600)
	i := 0
	for b.Loop() {
		if err := w.Append(readings[i%len(readings)]); err != nil {
			b.Fatal(err)
		}
		if i++; i%len(readings) == 0 {
			w.held = nil // as if it were committed
			w.take()
		}
	}
}
