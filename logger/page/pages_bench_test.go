//go:build unix

package page_test

import (
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"strings"
	"syscall"
	"testing"
	"time"

	"soakline/device"
	"soakline/logger"
)

// BenchmarkFiftyPages is what 50 open pages cost, in percent of one core, on a
// bench of 16 test points at 10 readings/s. The pages' own reading is in it.
func BenchmarkFiftyPages(b *testing.B) {
	for _, pages := range []int{0, 50} {
		b.Run(fmt.Sprint(pages), func(b *testing.B) {
			l := startSixteen(b)
			if _, err := l.BeginSoak(b.Context(), logger.SoakRequest{Unit: "B8-0147"}); err != nil {
				b.Fatal(err)
			}
			for range pages {
				l.openQuiet(b)
			}
			before, began := cpuTime(b), time.Now()
			clock := time.NewTicker(100 * time.Millisecond)
			defer clock.Stop()
			for b.Loop() {
				at := <-clock.C
				for i := range 16 {
					l.TakeReading("meter", fmt.Sprint(100+i), device.Reading{Measure: device.DCVoltage, Value: 5 + float64(at.UnixMilli()%100)/1e4, At: at})
				}
			}
			b.ReportMetric(100*float64(cpuTime(b)-before)/float64(time.Since(began)), "pct_of_one_core")
		})
	}
}

// openQuiet opens an event stream that reads what comes and does nothing with it.
func (l *live) openQuiet(t testing.TB) {
	t.Helper()
	address := strings.TrimPrefix(l.base, "http://")
	connection, err := net.Dial("tcp", address)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { connection.Close() })
	if _, err := fmt.Fprintf(connection, "GET /api/v1/events HTTP/1.1\r\nHost: %s\r\n\r\n", address); err != nil {
		t.Fatal(err)
	}
	go func() { _, _ = io.Copy(io.Discard, connection) }() // until it is closed
}

// cpuTime is what this process has used of the processor.
func cpuTime(t testing.TB) time.Duration {
	t.Helper()
	var usage syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &usage); err != nil {
		t.Fatal(err)
	}
	return time.Duration(usage.Utime.Nano() + usage.Stime.Nano())
}

// BenchmarkChart24h is what a chart of a day costs over HTTP, by a client that
// takes gzip as browsers do: one test point, sixteen, and one zoomed to an hour.
func BenchmarkChart24h(b *testing.B) {
	l := startSixteen(b, day)
	middle := float64(hour.Add(12 * time.Hour).Unix())
	rows := map[string]url.Values{
		"one":     {"soak": {"1"}, "test_point": {"rail-3"}},
		"sixteen": {"soak": {"1"}},
		"an_hour": {"soak": {"1"}, "test_point": {"rail-3"}, "from_s": {fmt.Sprint(middle)}, "until_s": {fmt.Sprint(middle + 3600)}},
		"singles": {"soak": {"1"}, "test_point": {"rail-3"}, "from_s": {fmt.Sprint(middle)}, "until_s": {fmt.Sprint(middle + 200)}},
	}
	for name, query := range rows {
		b.Run(name, func(b *testing.B) {
			var bytes int64
			before := cpuTime(b)
			for b.Loop() {
				request, err := http.NewRequestWithContext(b.Context(), http.MethodGet, l.base+"/api/v1/charts?"+query.Encode(), nil)
				if err != nil {
					b.Fatal(err)
				}
				request.Header.Set("Accept-Encoding", "gzip")
				response, err := http.DefaultClient.Do(request)
				if err != nil || response.StatusCode != http.StatusOK {
					b.Fatal(response, err)
				}
				if bytes, err = io.Copy(io.Discard, response.Body); err != nil {
					b.Fatal(err)
				}
				response.Body.Close()
			}
			b.ReportMetric(float64(bytes), "bytes")
			b.ReportMetric(float64(cpuTime(b)-before)/1e6/float64(b.N), "cpu_ms")
		})
	}
}
