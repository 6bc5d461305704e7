package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"soakline/checks"
	"soakline/config"
	"soakline/device"
	"soakline/logger/book"
)

// TestDemo runs the main job as its user does: instruments in another process
// behind real ports, two units, one of which drifts out. While it runs, a real
// Prometheus scrapes it, and what that returns must be what the book holds.
func TestDemo(t *testing.T) {
	dir := t.TempDir()
	demo := start(t, binary(t), "demo", "--for", "65s", "--dir", dir)
	other := secondBench(t)
	first := demo.line(t)
	at := regexp.MustCompile(`http://(\S+)/metrics, book (\S+)$`).FindStringSubmatch(first)
	if at == nil {
		t.Fatalf("the first line does not say where metrics and book are: %q", first)
	}
	prometheus := startPrometheus(t, at[1])
	var rest strings.Builder
	checked := false
	var lastLine time.Time
	for {
		line, err := demo.lines.ReadString('\n')
		rest.WriteString(line)
		if strings.Contains(line, " of 1 min 05 s") {
			lastLine = time.Now()
		}
		if strings.Contains(line, " of 1 min 05 s") && !checked {
			checked = true
			checkMetrics(t, at[1])
		}
		if err != nil {
			break
		}
	}
	if err := demo.Wait(); err != nil {
		t.Fatalf("%v\n%s\n%s", err, rest.String(), demo.log)
	}
	text := rest.String()
	for _, want := range []string{`(?m)^PASS +B8-0147 `, `(?m)^FAIL +CC-0031 `,
		`rail-5v dc-voltage left its limits \d\d:\d\d:\d\d .*low limit 4\.75 V`} {
		if !regexp.MustCompile(want).MatchString(text) {
			t.Errorf("no %q in\n%s", want, text)
		}
	}
	comparePrometheus(t, prometheus, at[2])
	checkGraphs(t, prometheus, lastLine)
	checkDemoVerdicts(t, at[2])
	checkMerged(t, at[2], other())
}

// checkMetrics has promtool hold /metrics against its rules of naming and form.
func checkMetrics(t *testing.T, address string) {
	t.Helper()
	body := fetch(t, "http://"+address+"/metrics")
	for _, name := range []string{"soakline_reading_volts{", "soakline_limit_volts{", "soakline_state{", "soakline_readings_total{",
		"soakline_port_up{", "soakline_soak_progress_ratio{", "soakline_soak_evidence_ratio{", "soakline_soak_verdict{",
		"soakline_book_commit_seconds_bucket{", "soakline_reading_celsius{"} {
		if !strings.Contains(string(body), "\n"+name) {
			t.Errorf("/metrics has no %s", name)
		}
	}
	promtool := exec.Command(need(t, "promtool"), "check", "metrics")
	promtool.Stdin = bytes.NewReader(body)
	if output, err := promtool.CombinedOutput(); err != nil || len(output) > 0 {
		t.Errorf("promtool check metrics: %v\n%s", err, output)
	}
}

// startPrometheus starts a real Prometheus that scrapes an address every second;
// its own address is returned.
func startPrometheus(t *testing.T, target string) string {
	t.Helper()
	dir := t.TempDir()
	configuration := filepath.Join(dir, "prometheus.yml")
	if _, err := config.WriteGraphing(dir, false); err != nil {
		t.Fatal(err)
	}
	text := fmt.Sprintf("global: {scrape_interval: 1s, scrape_timeout: 1s, evaluation_interval: 1s}\n"+
		"rule_files: [prometheus/recording.yml, prometheus/alerts.yml]\nscrape_configs:\n  - job_name: bench\n    static_configs: [{targets: [%q]}]\n", target)
	if err := os.WriteFile(configuration, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	address := freeAddress(t)
	start(t, need(t, "prometheus"), "--config.file="+configuration, "--storage.tsdb.path="+filepath.Join(dir, "data"),
		"--web.listen-address="+address, "--log.level=error")
	return address
}

// sample is one series as Prometheus returns it.
type sample struct {
	Metric map[string]string `json:"metric"`
	Values [][2]any          `json:"values"`
}

// comparePrometheus holds every value that Prometheus has scraped against the
// book: it must be the reading that was the latest at that moment, or one that
// came while it was scraped.
func comparePrometheus(t *testing.T, address, bookPath string) {
	t.Helper()
	query := url.Values{"query": {"soakline_reading_volts[2m]"}}
	var answer struct {
		Status string `json:"status"`
		Data   struct {
			Result []sample `json:"result"`
		} `json:"data"`
	}
	if err := json.Unmarshal(fetch(t, "http://"+address+"/api/v1/query?"+query.Encode()), &answer); err != nil || answer.Status != "success" {
		t.Fatalf("Prometheus: status %q, %v", answer.Status, err)
	}
	b, err := book.Open(t.Context(), bookPath, book.Options{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	values := 0
	for _, series := range answer.Data.Result {
		readings := readingsOf(t, b, series.Metric)
		for _, pair := range series.Values {
			values++
			at, value := pair[0].(float64), number(t, pair[1].(string))
			if !heldAt(readings, at, value) {
				t.Errorf("%v: Prometheus has %v at %.3f, and the book does not", series.Metric, value, at)
			}
		}
	}
	// Eight series of volts per unit or more, a minute at one scrape a second.
	if values < 500 {
		t.Errorf("only %d values were compared", values)
	}
	t.Logf("%d values in %d series are as in the book", values, len(answer.Data.Result))
}

func readingsOf(t *testing.T, b *book.Book, labels map[string]string) []device.Reading {
	t.Helper()
	var readings []device.Reading
	filter := book.Filter{Unit: checks.UnitID(labels["unit"]), TestPoint: checks.TestPointName(labels["test_point"]),
		Measure: device.Measure(labels["measure"]), Instrument: labels["instrument"], Bench: labels["bench"]}
	for r, err := range b.Readings(t.Context(), filter) {
		if err != nil {
			t.Fatal(err)
		}
		readings = append(readings, r.Reading)
	}
	return readings
}

// heldAt tells whether value was the latest reading about a moment (in seconds since
// 1970): one and a half seconds before, because a record's readings are known only
// once it has been measured, which takes a busy machine a second for a ripple, or
// within the second that the scrape may have taken.
func heldAt(readings []device.Reading, at, value float64) bool {
	latest := -1
	for i, r := range readings {
		seconds := float64(r.At.UnixMicro()) / 1e6
		if seconds <= at-1.5 {
			latest = i
		} else if seconds > at+1 {
			break
		} else if r.Value == value {
			return true
		}
	}
	return latest >= 0 && readings[latest].Value == value
}

// checkDemoVerdicts judges both soaks again from the book: the same verdict, and
// the excursion with its time, worst figure and limit.
func checkDemoVerdicts(t *testing.T, bookPath string) {
	t.Helper()
	judged, err := exec.Command(binary(t), "judge", "2", "--book", bookPath, "--json").Output()
	if code := exitCode(err); code != exitFail {
		t.Errorf("soakline judge 2 ended with %d, want %d", code, exitFail)
	}
	shown, err := exec.Command(binary(t), "soak", "show", "2", "--book", bookPath, "--json").Output()
	if err != nil {
		t.Fatal(err)
	}
	type verdict struct {
		Outcome    checks.Outcome `json:"outcome"`
		Excursions []struct {
			TestPoint string    `json:"test_point"`
			From      time.Time `json:"from"`
			Worst     float64   `json:"worst"`
			Limit     float64   `json:"limit"`
		} `json:"excursions"`
	}
	var again, kept verdict
	if err := json.Unmarshal(judged, &again); err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(shown, &kept); err != nil {
		t.Fatal(err)
	}
	if fmt.Sprint(again) != fmt.Sprint(kept) || kept.Outcome != checks.Fail || len(kept.Excursions) == 0 {
		t.Fatalf("kept %v, judged again %v", kept, again)
	}
	for _, excursion := range kept.Excursions {
		if excursion.TestPoint == "rail-5v" && excursion.Limit == 4.75 && excursion.Worst < 4.75 && !excursion.From.IsZero() {
			return
		}
	}
	t.Errorf("no excursion of rail-5v below 4.75 V in %v", kept.Excursions)
}

func fetch(t *testing.T, address string) []byte {
	t.Helper()
	response, err := http.Get(address)
	if err != nil {
		t.Fatal(err)
	}
	defer response.Body.Close()
	body, err := io.ReadAll(response.Body)
	if err != nil || response.StatusCode != http.StatusOK {
		t.Fatalf("%s: %s, %v", address, response.Status, err)
	}
	return body
}

func number(t *testing.T, text string) float64 {
	t.Helper()
	value, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Fatal(err)
	}
	return value
}

func exitCode(err error) int {
	if exit, ok := err.(*exec.ExitError); ok {
		return exit.ExitCode()
	}
	if err != nil {
		return -1
	}
	return 0
}
