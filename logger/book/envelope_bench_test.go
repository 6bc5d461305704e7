package book

import (
	"context"
	"runtime"
	"slices"
	"testing"
	"time"
)

// chartBuckets is how many points a chart has across.
const chartBuckets = 1000

// fillPoint writes so many days of one test point of the workload.
func fillPoint(b *testing.B, days int) *Book {
	b.Helper()
	book, w, j := openNew(b), newWorkload(1), newJournal()
	for range days * 24 * 6 {
		readings := w.read(perSecond * 600)
		var mine []TaggedReading
		for i := 0; i < len(readings); i += len(w.points) {
			mine = append(mine, readings[i])
		}
		_, err := book.store(b.Context(), &batch{readings: mine}, j)
		must(b, err)
	}
	return book
}

// BenchmarkChart reads one test point of a day of the workload, 864,000 readings,
// for a chart: with GROUP BY from rows, and from the book, exactly and from the
// summaries of blocks; and thirty days of it, for the median of the ratios to a day.
func BenchmarkChart(b *testing.B) {
	var perRows, perDay time.Duration
	table, w := openRows(b), newWorkload(1)
	book, j := openNew(b), newJournal()
	for range day / batchSize {
		readings := w.read(batchSize)
		table.store(b, readings)
		_, err := book.store(b.Context(), &batch{readings: readings}, j)
		must(b, err)
	}
	filter := Filter{TestPoint: w.points[3].tag.TestPoint}
	b.Run("rows", func(b *testing.B) {
		for b.Loop() {
			if n := table.chart(b, table.ids[w.points[3].tag]); n < 800_000 {
				b.Fatal(n)
			}
		}
		perRows = b.Elapsed() / time.Duration(b.N)
	})
	b.Run("exact", func(b *testing.B) {
		for b.Loop() {
			checkChart(b, book.Envelopes, filter, 860_000)
		}
		perDay = b.Elapsed() / time.Duration(b.N)
		b.ReportMetric(float64(perRows)/float64(perDay), "times_rows")
	})
	b.Run("overview", func(b *testing.B) {
		for b.Loop() {
			checkChart(b, book.Overviews, filter, 860_000)
		}
		b.ReportMetric(float64(perRows)*float64(b.N)/float64(b.Elapsed()), "times_rows")
	})
	b.Run("fresh", func(b *testing.B) {
		for b.Loop() {
			fresh, err := Open(b.Context(), book.Path(), Options{ReadOnly: true})
			must(b, err)
			checkChart(b, fresh.Envelopes, filter, 860_000)
			must(b, fresh.Close())
		}
		b.ReportMetric(float64(b.Elapsed())/float64(b.N)/float64(perDay), "times_warm")
	})
	month := fillPoint(b, 30)
	for name, query := range map[string]func(context.Context, Filter, int) ([]Envelope, error){"month_exact": month.Envelopes, "month_chart": month.Charts} {
		b.Run(name, func(b *testing.B) {
			var ratios []float64
			for b.Loop() { // a day and a month in turns: what else the machine does slows both
				begun := time.Now()
				checkChart(b, book.Envelopes, filter, 860_000)
				between := time.Now()
				checkChart(b, query, Filter{}, 25_900_000)
				ratios = append(ratios, float64(time.Since(between))/float64(between.Sub(begun)))
			}
			slices.Sort(ratios)
			b.ReportMetric(ratios[len(ratios)/2], "times_day")
		})
	}
}

// chart is the query that a row per reading needs.
func (r *rows) chart(b *testing.B, series int64) (readings int64) {
	b.Helper()
	found, err := r.db.Query(`SELECT (at_us - ?2) / 86400000, count(*), min(value), max(value), avg(value)
		FROM reading WHERE series = ?1 GROUP BY 1`, series, begin.UnixMicro())
	must(b, err)
	defer found.Close()
	for found.Next() {
		var cell, n int64
		var low, high, mean float64
		must(b, found.Scan(&cell, &n, &low, &high, &mean))
		readings += n
	}
	must(b, found.Err())
	return readings
}

func checkChart(b *testing.B, query func(context.Context, Filter, int) ([]Envelope, error), filter Filter, least int64) {
	b.Helper()
	envelopes, err := query(b.Context(), filter, chartBuckets)
	must(b, err)
	var n int64
	for _, bucket := range envelopes[0].Buckets {
		n += bucket.Count
	}
	if len(envelopes) != 1 || n < least {
		b.Fatalf("%d series, %d readings", len(envelopes), n)
	}
	runtime.KeepAlive(envelopes)
}
