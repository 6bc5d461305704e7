package report

import (
	"context"
	"fmt"
	"io"
	"math/rand/v2"
	"runtime"
	"testing"
	"time"

	"soakline/checks"
	"soakline/device"
	"soakline/device/scpi"
	"soakline/logger"
	"soakline/logger/book"
)

// daySheet has 16 test points.
func daySheet() (checks.Sheet, []byte) {
	sheet, text := benchSheet()
	check := sheet.TestPoints[0].Checks[0]
	sheet.TestPoints = nil
	for i := range 16 {
		sheet.TestPoints = append(sheet.TestPoints, checks.TestPoint{Name: checks.TestPointName(fmt.Sprintf("tp-%02d", i)), Checks: []checks.Check{check}})
	}
	sheet.Soak.Duration = 24 * time.Hour
	return sheet, text
}

// dayBook is a soak of 24 h at 16 test points with 10 readings/s each: 13.8 million.
func dayBook(b *testing.B) *book.Book {
	b.Helper()
	ctx, stop := context.WithCancel(context.WithoutCancel(b.Context()))
	defer stop()
	kept := emptyBook(b)
	sheet, text := daySheet()
	must(b, kept.AddUnit(ctx, book.Unit{ID: certUnit, Console: "Brambling 8"}))
	id, err := kept.BeginSoak(ctx, book.Soak{Bench: "quay", Place: "left", Unit: certUnit, Sheet: book.SheetCopy{Name: "brambling-8", Text: text}, Planned: 24 * time.Hour, Begin: soakBegin})
	must(b, err)
	w := book.NewWriter(kept, book.WriterOptions{CommitEvery: time.Hour, Bound: 1 << 20})
	ended := make(chan error, 1)
	go func() { ended <- w.Run(ctx) }()
	rng := rand.New(rand.NewPCG(1, 2))
	tag := book.Tag{Bench: "quay", Console: "Brambling 8", Unit: certUnit, Instrument: "meter", Measure: device.DCVoltage}
	for i := range 24 * 3600 * 10 {
		for _, point := range sheet.TestPoints {
			tag.TestPoint = point.Name
			digits := scpi.NewDecimal(501200+rng.Int64N(40), -5)
			must(b, w.Append(book.TaggedReading{Tag: tag, Reading: device.Reading{Measure: device.DCVoltage, Value: digits.Float64(), Digits: digits,
				At: soakBegin.Add(time.Duration(i) * 100 * time.Millisecond), StandardUncertainty: 0.0009}}))
		}
		if i%5000 == 0 {
			must(b, w.Flush(ctx))
		}
	}
	must(b, w.Flush(ctx))
	stop()
	must(b, <-ended)
	must(b, kept.EndSoak(b.Context(), id, book.SoakEnded, soakBegin.Add(24*time.Hour), ""))
	verdict, err := logger.JudgeFromBook(b.Context(), kept, id, sheet)
	must(b, err)
	must(b, logger.KeepVerdict(b.Context(), kept, id, soakBegin.Add(24*time.Hour), verdict))
	return kept
}

// BenchmarkDayCertificate gathers and writes the certificate of such a soak, and
// reports the largest heap that it was seen to have.
func BenchmarkDayCertificate(b *testing.B) {
	kept := dayBook(b)
	options := certOptions()
	options.ParseSheet = func(string, []byte) (checks.Sheet, error) { sheet, _ := daySheet(); return sheet, nil }
	for _, format := range []Format{PDF, HTML, JSON} {
		b.Run(string(format), func(b *testing.B) {
			b.ReportAllocs()
			runtime.GC()
			var largest uint64
			for b.Loop() {
				c, err := NewCertificate(b.Context(), kept, certUnit, options)
				must(b, err)
				if len(c.Checks) != 16 || c.Outcome != checks.Pass || c.Checks[15].Readings < 860_000 {
					b.Fatalf("%d checks, %s: %v", len(c.Checks), c.Outcome, c.Reasons)
				}
				must(b, c.Write(io.Discard, format))
				var memory runtime.MemStats
				runtime.ReadMemStats(&memory)
				largest = max(largest, memory.HeapInuse)
			}
			b.ReportMetric(float64(largest)/1e6, "MB_heap")
		})
	}
}
