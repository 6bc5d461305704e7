package page_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"soakline/checks"
	"soakline/device"
	"soakline/logger"
	"soakline/logger/book"
)

// sixteen is a sheet of 16 rails that are each read ten times a second.
func sixteen() checks.Sheet {
	sheet := railSheet()
	one := sheet.TestPoints[0]
	one.Checks[0].Every = 100 * time.Millisecond
	sheet.TestPoints = nil
	for i := range 16 {
		one.Name = checks.TestPointName(fmt.Sprintf("rail-%d", i))
		sheet.TestPoints = append(sheet.TestPoints, one)
	}
	return sheet
}

// startSixteen runs a bench with 16 test points at one place.
func startSixteen(b *testing.B, fill ...func(testing.TB, *book.Book)) *live {
	b.Helper()
	place := logger.Place{Name: "left"}
	for i, point := range sixteen().TestPoints {
		place.Connections = append(place.Connections, logger.Connection{TestPoint: point.Name, Instrument: "meter", Channel: fmt.Sprint(100 + i)})
	}
	settings := railSettings(b)
	settings.Book, settings.Places, settings.Sheets = filepath.Join(b.TempDir(), "sixteen.book"), []logger.Place{place}, []checks.Sheet{sixteen()}
	return startBench(b, settings, sixteen(), fill...)
}

// BenchmarkReadingToPage is how long a reading takes from its arrival to a page
// that shows it.
func BenchmarkReadingToPage(b *testing.B) {
	l := startLive(b)
	l.soak(b)
	events := l.openEvents(b, "")
	var took []time.Duration
	for v := 5.0; b.Loop(); v += 1e-6 {
		began := time.Now()
		l.volts(v)
		events.value(v)
		took = append(took, time.Since(began))
	}
	slices.Sort(took)
	b.ReportMetric(took[len(took)/2].Seconds()*1e3, "ms_median")
	b.ReportMetric(took[len(took)-1].Seconds()*1e3, "ms_most")
}

// day writes a soak of 24 h with 16 test points at 10 readings/s: 13.8 million.
func day(t testing.TB, b *book.Book) {
	t.Helper()
	if _, err := b.BeginSoak(t.Context(), book.Soak{Bench: "pier-end", Place: "left", Unit: "B8-0147", Begin: hour, Planned: 24 * time.Hour,
		Sheet: book.SheetCopy{Name: "rails", Text: []byte(sheetText), Hash: railSheet().Hash}}); err != nil {
		t.Fatal(err)
	}
	writer := book.NewWriter(b, book.WriterOptions{Bound: 2_000_000})
	ended := background(t.Context(), writer.Run)
	chance := rand.New(rand.NewPCG(1, 2))
	for tenth := range 24 * 36000 {
		at := hour.Add(time.Duration(tenth) * 100 * time.Millisecond)
		for i, point := range sixteen().TestPoints {
			v := math.Round(1e4*(5+0.01*float64(i)+0.002*chance.NormFloat64())) / 1e4
			tag := book.Tag{Bench: "pier-end", Console: "Brambling 8", Unit: "B8-0147", TestPoint: point.Name, Instrument: "meter", Measure: device.DCVoltage}
			r := device.Reading{Measure: device.DCVoltage, Value: v, StandardUncertainty: 0.001, At: at.Add(time.Duration(i) * time.Millisecond)}
			if err := writer.Append(book.TaggedReading{Tag: tag, Reading: r}); err != nil {
				t.Fatal(err)
			}
		}
		if tenth%20000 == 19999 {
			if err := writer.Flush(t.Context()); err != nil {
				t.Fatal(err)
			}
		}
	}
	for _, err := range []error{writer.Flush(t.Context()), ended(), b.EndSoak(t.Context(), 1, book.SoakEnded, hour.Add(24*time.Hour), "")} {
		if err != nil {
			t.Fatal(err)
		}
	}
}
