package page_test

import (
	"context"
	"encoding/json"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"soakline/checks"
	"soakline/device"
	"soakline/logger"
	"soakline/logger/book"
	"soakline/logger/page"
)

// judgedBench is a bench without instruments whose book has a unit with a verdict
// and one without, behind HTTP.
func judgedBench(t *testing.T) *httptest.Server {
	t.Helper()
	ctx := context.WithoutCancel(t.Context())
	b, err := book.Open(ctx, filepath.Join(t.TempDir(), "judged.book"), book.Options{Program: "soakline test"})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := b.Close(); err != nil {
			t.Error(err)
		}
	})
	var id book.SoakID
	begin := time.Now().Add(-2 * time.Hour)
	for _, unit := range []checks.UnitID{"B8-0147", "B8-0148"} {
		if err := b.AddUnit(ctx, book.Unit{ID: unit, Console: "Brambling 8"}); err != nil {
			t.Fatal(err)
		}
	}
	id, err = b.BeginSoak(ctx, book.Soak{Bench: "pier-end", Place: "left", Unit: "B8-0147", Sheet: book.SheetCopy{Name: "brambling-8", Text: []byte(sheetText)}, Planned: time.Hour, Begin: begin})
	if err == nil {
		err = b.EndSoak(ctx, id, book.SoakEnded, begin.Add(time.Hour), "")
	}
	if err == nil {
		err = b.PutVerdict(ctx, id, time.Time{}, checks.Verdict{Outcome: checks.Pass, Unit: "B8-0147", Begin: begin, End: begin.Add(time.Hour), Planned: time.Hour, Evidence: 1,
			Checks: []checks.CheckResult{{Check: checks.CheckKey{TestPoint: "composite", Measure: device.LumaPeakToPeak}, Outcome: checks.Pass, Readings: 1800, Mean: 0.99, Low: 0.98, High: 1}}})
	}
	if err != nil {
		t.Fatal(err)
	}
	bench := logger.NewBench(logger.Settings{Bench: "pier-end", Sheets: []checks.Sheet{sheet()}}, logger.Options{Book: b, Log: slog.New(slog.DiscardHandler),
		ParseSheet: func(string, []byte) (checks.Sheet, error) { return sheet(), nil }})
	server := httptest.NewServer(page.NewServer(bench, http.NotFoundHandler(), "", slog.New(slog.DiscardHandler)).Handler())
	t.Cleanup(server.Close)
	return server
}

func TestReportOverHTTP(t *testing.T) {
	server := judgedBench(t)
	for _, row := range []struct {
		path, contentType, begin string
		status                   int
	}{
		{"/api/v1/units/B8-0147/report", "text/html; charset=utf-8", "<!doctype html>", http.StatusOK},
		{"/api/v1/units/B8-0147/report?format=pdf&soak=1", "application/pdf", "%PDF-1.", http.StatusOK},
		{"/api/v1/units/B8-0147/report?format=label", "application/pdf", "%PDF-1.", http.StatusOK},
		{"/api/v1/units/B8-0147/report?format=csv", "text/csv; charset=utf-8", "part,test_point,", http.StatusOK},
		{"/api/v1/units/B8-0147/report?format=json", "application/json; charset=utf-8", "{\n", http.StatusOK},
		{"/api/v1/units/B8-0147/report?format=parchment", "application/json; charset=utf-8", `{"error":"there is no format \"parchment\"`, http.StatusUnprocessableEntity},
		{"/api/v1/units/B8-0147/report?soak=x", "application/json; charset=utf-8", `{"error":"soak \"x\" is no number`, http.StatusUnprocessableEntity},
		{"/api/v1/units/B8-0147/report?soak=7", "application/json; charset=utf-8", `{"error":`, http.StatusNotFound},
		{"/api/v1/units/B8-0148/report?soak=1", "application/json; charset=utf-8", `{"error":"soak 1 is of B8-0147`, http.StatusNotFound},
		{"/api/v1/units/B8-0148/report", "application/json; charset=utf-8", `{"error":"unit B8-0148: there is no verdict yet`, http.StatusConflict},
		{"/api/v1/units/B8-9999/report", "application/json; charset=utf-8", `{"error":`, http.StatusNotFound},
	} {
		response, err := http.Get(server.URL + row.path)
		if err != nil {
			t.Fatal(err)
		}
		head := make([]byte, 200)
		n, _ := response.Body.Read(head)
		if err := response.Body.Close(); err != nil {
			t.Error(err)
		}
		if response.StatusCode != row.status || response.Header.Get("Content-Type") != row.contentType || !strings.HasPrefix(string(head[:n]), row.begin) {
			t.Errorf("%s: %d, %s, %s", row.path, response.StatusCode, response.Header.Get("Content-Type"), head[:n])
		}
		policy := response.Header.Get("Content-Security-Policy")
		if row.status == http.StatusOK && (!strings.Contains(policy, "style-src 'unsafe-inline'") || strings.Contains(policy, "script-src")) {
			t.Errorf("%s: policy %s", row.path, policy)
		}
	}
}

func TestLineOverHTTP(t *testing.T) {
	server := judgedBench(t)
	status, body := send(t, server, http.MethodGet, "/api/v1/line?since=90d", "")
	var view page.LineFiguresView
	if err := json.Unmarshal(body, &view); status != http.StatusOK || err != nil || view.Units != 1 || view.Passed != 1 || view.YieldInterval == nil || view.Fails == nil {
		t.Errorf("%d: %s (%v)", status, body, err)
	}
	if status, body := send(t, server, http.MethodGet, "/api/v1/line?since=soon", ""); status != http.StatusUnprocessableEntity || !strings.Contains(string(body), "give how long ago as 90d") {
		t.Errorf("%d: %s", status, body)
	}
}

func TestSinceTime(t *testing.T) {
	now := time.Date(2026, 11, 25, 14, 0, 0, 0, time.UTC)
	for text, want := range map[string]time.Time{
		"": {}, "90d": now.AddDate(0, 0, -90), "12h": now.Add(-12 * time.Hour), "0d": now,
		"2026-09-01": time.Date(2026, 9, 1, 0, 0, 0, 0, time.UTC), "2026-09-01T14:00:00Z": time.Date(2026, 9, 1, 14, 0, 0, 0, time.UTC),
	} {
		if got, err := page.SinceTime(text, now); err != nil || !got.Equal(want) {
			t.Errorf("%q is %v (%v), want %v", text, got, err, want)
		}
	}
	for _, text := range []string{"soon", "-3d", "3", "d", "99999999d", "-2h", "2026-13-01"} {
		if got, err := page.SinceTime(text, now); err == nil {
			t.Errorf("%q is %v", text, got)
		}
	}
}
