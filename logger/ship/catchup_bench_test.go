package ship

import (
	"io"
	"net/http"
	"net/http/httptest"
	"testing"
	"time"

	"soakline/logger/book"
)

// BenchmarkCatchUp ships a backlog to an engine that costs nothing.
func BenchmarkCatchUp(b *testing.B) {
	const backlog = 200_000
	kept := openBook(b)
	writer := book.NewWriter(kept, book.WriterOptions{CommitEvery: time.Hour, Bound: 2 * backlog})
	stop := running(b, writer.Run)
	begin := time.Date(2026, 3, 14, 9, 26, 53, 0, time.UTC)
	for i := range backlog {
		must(b, writer.Append(reading(b, i, begin.Add(time.Duration(i)*10*time.Millisecond))))
	}
	stop()
	var sent int64
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		n, _ := io.Copy(io.Discard, r.Body) // only counted
		sent += n
		w.WriteHeader(http.StatusNoContent)
	}))
	defer server.Close()
	for b.Loop() {
		to := target(server.URL)
		to.Resend = time.Hour // so that the next round begins at the beginning
		shipper := New(kept, []Target{to}, quiet())
		stop := running(b, shipper.Run)
		waitFor(b, "the backlog", func() bool { return shipper.Status()[0].Readings == backlog })
		stop()
	}
	b.ReportMetric(float64(b.N)*backlog/b.Elapsed().Seconds(), "readings/s")
	b.ReportMetric(float64(sent)/float64(b.N)/backlog, "bytes/reading")
}
