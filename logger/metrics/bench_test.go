package metrics_test

import (
	"context"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"go.uber.org/goleak"

	"soakline/checks"
	"soakline/device"
	"soakline/device/scpi"
	"soakline/logger"
	"soakline/logger/book"
	"soakline/logger/metrics"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// startBench runs a bench of one place whose meter is not there; what it reads
// comes from the test.
func startBench(t testing.TB) (*logger.Bench, http.Handler) {
	t.Helper()
	dir := t.TempDir()
	b, err := book.Open(t.Context(), filepath.Join(dir, "pier.book"), book.Options{})
	if err != nil {
		t.Fatal(err)
	}
	text := []byte("the test sheet")
	sheet := checks.Sheet{Name: "s", Console: "Brambling 8", Hash: book.HashSheet(text), Soak: checks.SoakPlan{Duration: time.Hour, EvidenceAtLeast: 0.99, LongestGap: time.Minute},
		TestPoints: []checks.TestPoint{{Name: "rail-5v", Checks: []checks.Check{{Measure: device.DCVoltage, Every: time.Second, FreshFor: time.Minute,
			Limit: checks.Limit{Low: 4.75, High: 5.25, Source: "common practice, no source", Guard: checks.GuardBand{Rule: checks.Simple}}}}}}}
	bench := logger.NewBench(logger.Settings{Bench: "pier-end", CommitEvery: time.Second, Sheets: []checks.Sheet{sheet},
		Instruments: []logger.InstrumentSettings{{Name: "meter", Port: filepath.Join(dir, "none"),
			Commands: device.CommandSet{Name: "meter", Asks: []device.Ask{{Measure: device.DCVoltage, Send: "READ?"}}}}},
		Places: []logger.Place{{Name: "left", Connections: []logger.Connection{{TestPoint: "rail-5v", Instrument: "meter", Channel: "101"}}}}},
		logger.Options{Book: b, Log: slog.New(slog.DiscardHandler), SheetTexts: map[string][]byte{sheet.Hash: text},
			ParseSheet: func(string, []byte) (checks.Sheet, error) { return sheet, nil }})
	ctx, stop := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- bench.Run(ctx) }()
	t.Cleanup(func() {
		stop()
		if err := <-ended; err != nil {
			t.Error(err)
		}
		if err := b.Close(); err != nil {
			t.Error(err)
		}
	})
	for _, unit := range []checks.UnitID{"B8-0147", "B8-0148"} {
		if err := bench.AddUnit(t.Context(), book.Unit{ID: unit, Console: "Brambling 8"}); err != nil {
			t.Fatal(err)
		}
	}
	return bench, metrics.NewHandler(bench)
}

func begin(t testing.TB, bench *logger.Bench, unit checks.UnitID) {
	t.Helper()
	if _, err := bench.BeginSoak(t.Context(), logger.SoakRequest{Unit: unit}); err != nil {
		t.Fatal(err)
	}
}

func take(bench *logger.Bench, volts float64) {
	bench.TakeReading("meter", "101", device.Reading{Measure: device.DCVoltage, Value: volts, At: scpi.Steady.Now()})
}

func shown(t testing.TB, handler http.Handler) string {
	t.Helper()
	answer := httptest.NewRecorder()
	handler.ServeHTTP(answer, httptest.NewRequest(http.MethodGet, "/metrics", nil))
	body, err := io.ReadAll(answer.Result().Body)
	if err != nil || answer.Code != http.StatusOK {
		t.Fatalf("%d, %v: %s", answer.Code, err, body)
	}
	return string(body)
}

// until scrapes until a line is there.
func until(t testing.TB, handler http.Handler, want string) string {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), 20*time.Second)
	defer cancel()
	for ctx.Err() == nil {
		if body := shown(t, handler); strings.Contains(body, want) {
			return body
		}
	}
	t.Fatalf("waited in vain for %s in\n%s", want, shown(t, handler))
	return ""
}

// TestUnitLeaves: a unit that leaves the bench leaves the metrics, its verdict when
// its place is taken; what was counted about instruments stays.
func TestUnitLeaves(t *testing.T) {
	bench, handler := startBench(t)
	begin(t, bench, "B8-0147")
	take(bench, 5.02)
	body := until(t, handler, `soakline_reading_volts{bench="pier-end",console="Brambling 8",instrument="meter",measure="dc-voltage",test_point="rail-5v",unit="B8-0147"} 5.02`)
	if !strings.Contains(body, `soakline_readings_total{bench="pier-end",console="Brambling 8",instrument="meter",measure="dc-voltage",test_point="rail-5v",unit="B8-0147"} 1`) {
		t.Errorf("the reading is not counted: %s", body)
	}
	until(t, handler, `soakline_reading_errors_total{instrument="meter",kind=`)
	if err := bench.EndSoak(t.Context(), "B8-0147", "enough"); err != nil {
		t.Fatal(err)
	}
	body = until(t, handler, `soakline_soak_verdict{bench="pier-end",console="Brambling 8",unit="B8-0147",verdict="undecided"} 1`)
	for _, line := range strings.Split(body, "\n") {
		if strings.Contains(line, "B8-0147") && !strings.HasPrefix(line, "soakline_soak_verdict{") {
			t.Errorf("the unit has left, and there is %s", line)
		}
	}
	begin(t, bench, "B8-0148")
	body = until(t, handler, `unit="B8-0148"`)
	if strings.Contains(body, "B8-0147") {
		t.Error("its place is taken, and the unit is still shown")
	}
	if !strings.Contains(body, `soakline_reading_errors_total{instrument="meter",kind=`) || !strings.Contains(body, "\nsoakline_book_commit_seconds_count ") {
		t.Error("what was counted about the instrument or the book is gone")
	}
}

// BenchmarkReadingToScrape is how long it takes from the arrival of a reading until
// a scrape that was asked for then shows it.
func BenchmarkReadingToScrape(b *testing.B) {
	bench, handler := startBench(b)
	begin(b, bench, "B8-0147")
	scrapes := 0
	for i := 0; b.Loop(); i++ {
		volts := 5 + float64(i%1000)/10000
		want := fmt.Sprintf("unit=\"B8-0147\"} %v\n", volts)
		take(bench, volts)
		for scrapes++; !strings.Contains(shown(b, handler), want); scrapes++ {
		}
	}
	b.ReportMetric(float64(scrapes)/float64(b.N), "scrapes/op")
}
