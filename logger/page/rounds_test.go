package page_test

import (
	"context"
	"encoding/json"
	"io"
	"log/slog"
	"maps"
	"math"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"soakline/checks"
	"soakline/device"
	"soakline/logger"
	"soakline/logger/book"
	"soakline/logger/page"
)

const sheetText = "name: brambling-8\n"

var roundBegan = time.Date(2026, 5, 1, 14, 2, 11, 0, time.UTC)

func sheet() checks.Sheet {
	limit := checks.Limit{Low: 0.95, High: 1.05, Nominal: 1, Source: "for the test", Guard: checks.GuardBand{Rule: checks.Simple}}
	return checks.Sheet{Name: "brambling-8", Console: "Brambling 8", Hash: book.HashSheet([]byte(sheetText)), VideoSystem: "625/50",
		TestPoints: []checks.TestPoint{{Name: "composite", Caution: "75 ohm first.", Checks: []checks.Check{{Measure: device.LumaPeakToPeak, Limit: limit}}}},
		Trial:      []checks.Criterion{{Measure: device.LumaPeakToPeak, Aim: checks.NearestNominal}, {Measure: device.Overshoot, Aim: checks.AtMost, Bound: 0.03}}}
}

// served is a bench with one unit, two rounds in its book and one place, behind
// HTTP. Its instrument is not there.
func served(t *testing.T) *httptest.Server {
	t.Helper()
	b, err := book.Open(t.Context(), filepath.Join(t.TempDir(), "test.book"), book.Options{})
	if err != nil {
		t.Fatal(err)
	}
	settings := logger.Settings{Bench: "pier-end", CommitEvery: 1e9, Sheets: []checks.Sheet{sheet()},
		Instruments: []logger.InstrumentSettings{{Name: "scope", Port: filepath.Join(t.TempDir(), "none"), Commands: device.CommandSet{
			Line: device.LineSettings{Baud: 9600, DataBits: 8, Parity: "none", StopBits: "1", Flow: "none", SendEnding: "lf"}, Capture: &device.CaptureAsk{}}}},
		Places: []logger.Place{{Name: "left", Connections: []logger.Connection{{TestPoint: "composite", Instrument: "scope", Channel: "1"}}}}}
	bench := logger.NewBench(settings, logger.Options{Book: b, Log: slog.New(slog.DiscardHandler), SheetTexts: map[string][]byte{sheet().Hash: []byte(sheetText)},
		ParseSheet: func(string, []byte) (checks.Sheet, error) { return sheet(), nil }})
	ctx, stop := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- bench.Run(ctx) }()
	server := httptest.NewServer(page.NewServer(bench, http.NotFoundHandler(), "", slog.New(slog.DiscardHandler)).Handler())
	t.Cleanup(func() {
		server.Close()
		stop()
		if err := <-ended; err != nil {
			t.Error(err)
		}
		if err := b.Close(); err != nil {
			t.Error(err)
		}
	})
	if err := b.AddUnit(t.Context(), book.Unit{ID: "B8-0147", Console: "Brambling 8"}); err != nil {
		t.Fatal(err)
	}
	addRound(t, b, "as received", 0, math.NaN(), 0.842)
	addRound(t, b, "output / capacitor", 0, math.NaN(), 0.988)
	return server
}

func addRound(t *testing.T, b *book.Book, label string, trial book.TrialID, candidate, level float64) {
	t.Helper()
	id, err := b.BeginRound(t.Context(), book.Round{Bench: "pier-end", Unit: "B8-0147", Label: label, Sheet: book.SheetCopy{Name: "brambling-8", Text: []byte(sheetText)}, Trial: trial, Candidate: candidate})
	if err == nil {
		err = b.AddRoundReadings(t.Context(), id, book.RoundReading{TestPoint: "composite", Instrument: "scope", Averaged: 3,
			Reading: device.Reading{Measure: device.LumaPeakToPeak, Value: level, StandardUncertainty: 0.003, At: roundBegan}})
	}
	if err == nil {
		err = b.EndRound(t.Context(), id, roundBegan)
	}
	if err != nil {
		t.Fatal(err)
	}
}

// send sends a request and returns status and body.
func send(t *testing.T, server *httptest.Server, method, path, body string) (int, []byte) {
	t.Helper()
	request, err := http.NewRequestWithContext(t.Context(), method, server.URL+path, strings.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	request.Header.Set("Content-Type", "application/json")
	response, err := http.DefaultClient.Do(request)
	if err != nil {
		t.Fatal(err)
	}
	defer response.Body.Close()
	text, err := io.ReadAll(response.Body)
	if err != nil {
		t.Fatal(err)
	}
	return response.StatusCode, text
}

// keysOf are the keys of a JSON object, sorted.
func keysOf(t *testing.T, object any) []string {
	t.Helper()
	fields, ok := object.(map[string]any)
	if !ok {
		t.Fatalf("%v is no object", object)
	}
	return slices.Sorted(maps.Keys(fields))
}

func TestRoundsAsJSON(t *testing.T) {
	server := served(t)
	status, body := send(t, server, "GET", "/api/v1/units/B8-0147/rounds/output%20%2F%20capacitor", "")
	var round map[string]any
	if err := json.Unmarshal(body, &round); err != nil || status != http.StatusOK {
		t.Fatalf("%d %s", status, body)
	}
	want := []string{"begin", "console", "end", "figures", "label", "round", "sheet", "unit"}
	if diff := cmp.Diff(want, keysOf(t, round)); diff != "" {
		t.Error(diff)
	}
	figure := round["figures"].([]any)[0]
	want = []string{"asked", "at", "averaged", "bracket", "figure", "figure_u", "high", "instrument", "low", "measure", "nominal", "state", "test_point", "text", "u", "unit", "value"}
	if diff := cmp.Diff(want, keysOf(t, figure)); diff != "" {
		t.Error(diff)
	}
	status, body = send(t, server, "GET", "/api/v1/units/B8-0147/rounds", "")
	if status != http.StatusOK || strings.Count(string(body), `"label":`) != 2 {
		t.Errorf("%d %s", status, body)
	}
}

func TestComparisonAsJSON(t *testing.T) {
	server := served(t)
	status, body := send(t, server, "GET", "/api/v1/units/B8-0147/comparison?before=as+received&after=output+%2F+capacitor", "")
	var c struct {
		Lines []map[string]any `json:"lines"`
	}
	if err := json.Unmarshal(body, &c); err != nil || status != http.StatusOK || len(c.Lines) != 1 {
		t.Fatalf("%d %s", status, body)
	}
	want := []string{"after", "before", "change", "change_expanded_u", "change_u", "meaning", "measure", "one_instrument", "test_point", "text", "told", "unit"}
	if diff := cmp.Diff(want, keysOf(t, c.Lines[0])); diff != "" {
		t.Error(diff)
	}
	// 0.988 - 0.842, and 2 sqrt(2) times 3 mV (JCGM 100:2008, 5.1.2 and 6.2).
	if change, u := c.Lines[0]["change"].(float64), c.Lines[0]["change_expanded_u"].(float64); math.Abs(change-0.146) > 1e-12 || math.Abs(u-0.0084853) > 1e-6 {
		t.Errorf("change %g, expanded uncertainty %g", change, u)
	}
}

// TestRoundOverHTTP takes a round of an instrument that is not there: the figures
// stay null, never 0.
func TestRoundOverHTTP(t *testing.T) {
	t.Parallel()
	server := served(t)
	steps := []struct {
		method, path, body string
		status             int
		has                string
	}{
		{"GET", "/api/v1/units/B8-0147/round-plan", "", 200, `"needs_person":true`},
		{"GET", "/api/v1/units/B8-0147/round-plan?place=roof", "", 409, "roof"},
		{"GET", "/api/v1/units/XX-1/round-plan", "", 404, "XX-1"},
		{"POST", "/api/v1/units/B8-0147/rounds", `{"label":"as received"}`, 409, "round of that label"},
		{"POST", "/api/v1/units/B8-0147/rounds", `{"label":""}`, 422, "label"},
		{"POST", "/api/v1/units/B8-0147/rounds", `{"label":"x","text":"*RST"}`, 400, "unknown field"},
		{"POST", "/api/v1/units/B8-0147/rounds", `{"label":"third"}`, 201, `"value":null`},
		{"POST", "/api/v1/units/B8-0147/rounds/third/points/nowhere", `{}`, 404, "nowhere"},
		{"POST", "/api/v1/units/B8-0147/rounds/third/points/composite", `{}`, 200, `"trouble":"scope`},
		{"POST", "/api/v1/units/B8-0147/rounds/third/end", `{}`, 200, `"value":null`},
		{"POST", "/api/v1/units/B8-0147/rounds/third/end", `{}`, 409, "has ended"},
		{"POST", "/api/v1/units/B8-0147/rounds/third/points/composite", `{}`, 409, "has ended"},
		{"POST", "/api/v1/units/B8-0147/trials", `{"part":"R14","candidate_unit":"ohms"}`, 201, `"trial":1`},
		{"POST", "/api/v1/units/XX-1/trials", `{"part":"R14","candidate_unit":"ohms"}`, 404, "XX-1"},
		{"GET", "/api/v1/units/B8-0147/trials/1", "", 404, "no rounds"},
		{"GET", "/api/v1/units/B8-0147/trials/one", "", 404, "no number"},
		{"POST", "/api/v1/units/B8-0147/rounds", `{"label":"t","trial":1,"candidate":68}`, 201, `"candidate":68`},
		{"POST", "/api/v1/units/B8-0147/trials/1/end", `{"chosen":68}`, 200, `"not_measured":[0]`},
	}
	for _, step := range steps {
		status, body := send(t, server, step.method, step.path, step.body)
		if status != step.status || !strings.Contains(string(body), step.has) {
			t.Errorf("%s %s %s: %d %s, want %d with %s", step.method, step.path, step.body, status, body, step.status, step.has)
		}
	}
}

func TestTrialAsJSON(t *testing.T) {
	rounds := []book.Round{{Label: "a", Candidate: 68}, {Label: "b", Candidate: 75}}
	for i, level := range []float64{0.94, 1.0} {
		rounds[i].Readings = []book.RoundReading{{TestPoint: "composite", Reading: device.Reading{Measure: device.LumaPeakToPeak, Value: level, StandardUncertainty: 0.001}}}
	}
	result := logger.RankTrial(sheet(), book.Trial{ID: 3, Unit: "B8-0147", Part: "R14", CandidateUnit: "ohms", Chosen: math.NaN()}, rounds)
	text, err := json.Marshal(page.ViewTrial(result))
	if err != nil {
		t.Fatal(err)
	}
	var view struct {
		Chosen     *float64 `json:"chosen"`
		Candidates []struct{ Text string }
		Criteria   []map[string]any
		Order      [][]int
	}
	if err := json.Unmarshal(text, &view); err != nil {
		t.Fatal(err)
	}
	want := []string{"aim", "figures", "groups", "keeps", "measure", "not_measured", "test_point", "text", "unit"}
	if diff := cmp.Diff(want, keysOf(t, view.Criteria[0])); diff != "" {
		t.Error(diff)
	}
	if diff := cmp.Diff([][]int{{1}, {0}}, view.Order); diff != "" || view.Chosen != nil || view.Candidates[1].Text != "75 ohm" {
		t.Errorf("%s chosen %v, candidates %v", diff, view.Chosen, view.Candidates)
	}
	if missing := view.Criteria[1]["not_measured"].([]any); len(missing) != 2 || !strings.Contains(string(text), `"value":null`) {
		t.Errorf("overshoot was not measured, and the trial says %s", text)
	}
}
