package metrics

import (
	"bytes"
	"context"
	"errors"
	"flag"
	"math"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"soakline/checks"
	"soakline/device"
	"soakline/logger"
	"soakline/logger/book"
)

var update = flag.Bool("update", false, "write the golden files anew")

// still is a bench that stands still.
type still struct {
	logger.Snapshot
	err error

	series     map[book.Tag]logger.Tally
	excursions map[logger.ExcursionKey]uint64
	troubles   map[logger.Trouble]uint64
	losses     map[string]uint64
}

func (s *still) Series() map[book.Tag]logger.Tally          { return s.series }
func (s *still) Excursions() map[logger.ExcursionKey]uint64 { return s.excursions }
func (s *still) Troubles() map[logger.Trouble]uint64        { return s.troubles }
func (s *still) Losses() map[string]uint64                  { return s.losses }

// stillSource keeps Snapshot, the method, apart from Snapshot, the field.
type stillSource struct{ *still }

func (s stillSource) Snapshot(context.Context) (logger.Snapshot, error) {
	return s.still.Snapshot, s.err
}

func (s *still) handler() http.Handler {
	return handlerOf(&collector{bench: stillSource{s}, counters: s})
}

// scrape asks for /metrics as a scraper does.
func scrape(t *testing.T, handler http.Handler, accept string) *http.Response {
	t.Helper()
	request := httptest.NewRequest(http.MethodGet, "/metrics", nil)
	if accept != "" {
		request.Header.Set("Accept", accept)
	}
	answer := httptest.NewRecorder()
	handler.ServeHTTP(answer, request)
	return answer.Result()
}

func text(t *testing.T, response *http.Response) string {
	t.Helper()
	var body bytes.Buffer
	if _, err := body.ReadFrom(response.Body); err != nil {
		t.Fatal(err)
	}
	return body.String()
}

// standing is a check as it stands, with a limit of 4.75 to 5.25.
func standing(point string, measure device.Measure, state checks.State, value float64) logger.CheckStatus {
	return logger.CheckStatus{Instrument: "meter", Standing: checks.Standing{
		Check: checks.CheckKey{TestPoint: checks.TestPointName(point), Measure: measure}, State: state,
		Value: value, Figure: value, Limit: checks.Limit{Low: 4.75, High: 5.25}}}
}

// busy is a bench with a soak in its second half, one that has just begun and one
// that has its verdict.
func busy() *still {
	oneSided := standing("case", device.Temperature, checks.Borderline, 44.5)
	oneSided.Limit = checks.Limit{Low: math.Inf(-1), High: 45}
	return &still{
		Snapshot: logger.Snapshot{Bench: "pier-end",
			Instruments: []device.Status{{Instrument: "meter", Up: true, Reopens: 2}, {Instrument: "scope"}},
			Soaks: []logger.SoakStatus{
				{Unit: "B8-0147", Console: "Brambling 8", Progress: 0.625, Evidence: 0.998, SoFar: checks.Fail, Checks: []logger.CheckStatus{
					standing("rail-5v", device.DCVoltage, checks.Outside, 4.7123),
					standing("reservoir", device.DCVoltage, checks.Silent, 11.9),
					oneSided,
				}},
				{Unit: "CC-0031", Console: "Corncrake II", Evidence: math.NaN(), SoFar: checks.Undecided, Checks: []logger.CheckStatus{
					standing("rail-5v", device.DCVoltage, checks.Settling, math.NaN())}},
			},
			Finished: []logger.FinishedSoak{{Unit: "B8-0101", Console: "Brambling 8", Verdict: checks.Verdict{Outcome: checks.Pass}}},
			Book:     book.Health{Pending: 17, Lost: map[string]uint64{book.LostQueueFull: 3, "bench too busy": 99}}},
		series: map[book.Tag]logger.Tally{{Bench: "pier-end", Console: "Brambling 8", Unit: "B8-0147", TestPoint: "rail-5v",
			Instrument: "meter", Measure: device.DCVoltage}: {Readings: 18000}},
		excursions: map[logger.ExcursionKey]uint64{{Unit: "B8-0147", Check: checks.CheckKey{TestPoint: "rail-5v", Measure: device.DCVoltage}, State: checks.Outside}: 1},
		troubles:   map[logger.Trouble]uint64{{Instrument: "scope", Kind: device.Silence}: 4},
		losses:     map[string]uint64{"bench too busy": 5},
	}
}

// golden holds what a handler answers against a file and promtool.
func golden(t *testing.T, file string, handler http.Handler) {
	t.Helper()
	response := scrape(t, handler, "")
	got := text(t, response)
	if response.StatusCode != http.StatusOK {
		t.Fatalf("%s: %s", response.Status, got)
	}
	path := filepath.Join("testdata", file)
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), got); diff != "" {
		t.Error(diff)
	}
	promtool, err := exec.LookPath("promtool")
	if err != nil {
		t.Fatal("promtool is not here: install the Debian package prometheus")
	}
	check := exec.Command(promtool, "check", "metrics")
	check.Stdin = strings.NewReader(got)
	if output, err := check.CombinedOutput(); err != nil || len(output) > 0 {
		t.Errorf("promtool check metrics: %v\n%s", err, output)
	}
}

// TestGolden holds the whole of /metrics against a file, and the file against
// promtool's rules of naming and form (Prometheus, "check metrics").
func TestGolden(t *testing.T) {
	hostile := busy()
	name := "<img src=x onerror=alert(1)>\"quoted\" back\\slash\nnext line\xff"
	hostile.Soaks = hostile.Soaks[:1]
	hostile.Soaks[0].Unit = checks.UnitID(name)
	hostile.Bench = name
	for file, bench := range map[string]*still{"busy.prom": busy(), "empty.prom": {Snapshot: logger.Snapshot{Bench: "pier-end"}}, "hostile.prom": hostile} {
		t.Run(file, func(t *testing.T) {
			golden(t, file, bench.handler())
		})
	}
}

// TestWhatIsNotKnownIsAbsent: a scraper must not find a number where there is none.
func TestWhatIsNotKnownIsAbsent(t *testing.T) {
	got := text(t, scrape(t, busy().handler(), ""))
	for _, absent := range []string{
		`soakline_reading_volts{bench="pier-end",console="Brambling 8",instrument="meter",measure="dc-voltage",test_point="reservoir"`, // silent
		`soakline_reading_volts{bench="pier-end",console="Corncrake II"`,                                                               // not read yet
		`soakline_soak_evidence_ratio{bench="pier-end",console="Corncrake II"`,                                                         // settling
		"NaN", "Inf", // no limit on that side
	} {
		if strings.Contains(got, absent) {
			t.Errorf("it has %s", absent)
		}
	}
	// The writer's own count of what the bench lost is per check: once is enough.
	if !strings.Contains(got, `soakline_readings_lost_total{cause="bench too busy"} 5`+"\n") ||
		!strings.Contains(got, `soakline_readings_lost_total{cause="queue full"} 3`+"\n") {
		t.Errorf("losses: %s", got)
	}
}

// TestUnknownUnitOfMeasure: a measure that nobody knows takes no scrape down.
func TestUnknownUnitOfMeasure(t *testing.T) {
	bench := busy()
	bench.Soaks[0].Checks = append(bench.Soaks[0].Checks, standing("rail-5v", "phlogiston", checks.Within, 5))
	response := scrape(t, bench.handler(), "")
	if got := text(t, response); response.StatusCode != http.StatusOK || !strings.Contains(got, `soakline_state{bench="pier-end",console="Brambling 8",instrument="meter",measure="phlogiston",state="within"`) {
		t.Errorf("%s\n%s", response.Status, got)
	}
}

// TestBenchThatDoesNotAnswer: a scrape then fails, and Prometheus shows it.
func TestBenchThatDoesNotAnswer(t *testing.T) {
	bench := busy()
	bench.err = errors.New("the bench has stopped")
	response := scrape(t, bench.handler(), "")
	if got := text(t, response); response.StatusCode != http.StatusInternalServerError || !strings.Contains(got, "the bench has stopped") {
		t.Errorf("%s: %s", response.Status, got)
	}
}

// TestForms: plain text or OpenMetrics, as the scraper asks (OpenMetrics 1.0,
// "Content-Type"; Prometheus text format 0.0.4).
func TestForms(t *testing.T) {
	rows := []struct{ accept, kind, end string }{
		{"", "text/plain; version=0.0.4", "\n"},
		{"text/plain;version=0.0.4", "text/plain; version=0.0.4", "\n"},
		{"application/openmetrics-text;version=1.0.0,text/plain;version=0.0.4;q=0.5", "application/openmetrics-text; version=1.0.0", "# EOF\n"},
		{"text/html", "text/plain; version=0.0.4", "\n"},
	}
	for _, row := range rows {
		response := scrape(t, busy().handler(), row.accept)
		got := text(t, response)
		if kind := response.Header.Get("Content-Type"); !strings.HasPrefix(kind, row.kind) || !strings.HasSuffix(got, row.end) {
			t.Errorf("asked for %q: %q, ends in %q", row.accept, kind, got[max(0, len(got)-20):])
		}
	}
}

// TestEveryUnitHasItsMetrics: the contracted names, one for each unit of a measure.
func TestEveryUnitHasItsMetrics(t *testing.T) {
	for _, plural := range []string{"volts", "amperes", "ohms", "farads", "hertz", "seconds", "celsius", "ratio"} {
		found := false
		for unit := range readingDescs {
			found = found || unit.Plural == plural
		}
		if !found {
			t.Errorf("no soakline_reading_%s", plural)
		}
	}
	for _, measure := range device.Measures() {
		if readingDescs[measure.Unit()] == nil || limitDescs[measure.Unit()] == nil {
			t.Errorf("%s has no metric", measure)
		}
	}
}
