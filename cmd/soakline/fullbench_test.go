package main

import (
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"soakline/device/simbench"
	"soakline/logger/page"
)

// A full bench is sixteen test points read ten times a second, each by a meter of
// its own.
const (
	fullPoints    = 16
	fullPerSecond = 10 * fullPoints
)

// newFullBench writes a full bench's files beside simulated meters, which run in a
// process of their own. The book is in bookDir; more is added to the bench's file.
func newFullBench(t *testing.T, bookDir, more string) *killedBench {
	t.Helper()
	dir := t.TempDir()
	settings := simbench.DemoConfig(dir)
	settings.Units, settings.Instruments = settings.Units[:1], settings.Instruments[:1]
	meter := settings.Instruments[0]
	settings.Instruments = nil
	for i := range fullPoints {
		m := meter
		m.Name, m.Port = fullMeter(i), filepath.Join(dir, fullMeter(i))
		m.Wiring = meter.Wiring[:1]
		m.Meter = &simbench.MeterConfig{GainError: 20e-6, NoiseRatio: 1e-6}
		settings.Instruments = append(settings.Instruments, m)
	}
	text, err := json.Marshal(settings)
	if err != nil {
		t.Fatal(err)
	}
	k := &killedBench{file: filepath.Join(dir, "bench.yaml"), book: filepath.Join(bookDir, "full.book")}
	simulation := filepath.Join(dir, "simulation.json")
	for path, text := range map[string]string{simulation: string(text), k.file: fullBenchFile(dir, k.book) + more, filepath.Join(dir, "full.yaml"): fullSheet()} {
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	start(t, binary(t), "simulate", "--config", simulation).line(t)
	return k
}

func fullMeter(i int) string { return fmt.Sprintf("meter-%02d", i+1) }
func fullPoint(i int) string { return fmt.Sprintf("rail-%02d", i+1) }

func fullBenchFile(dir, book string) string {
	var b strings.Builder
	fmt.Fprintf(&b, "bench: pier-end\nbook: %q\nlisten: 127.0.0.1:0\nsheets: [full.yaml]\ninstruments:\n", book)
	for i := range fullPoints {
		fmt.Fprintf(&b, "  - {name: %s, port: %q, command_set: scpi-meter}\n", fullMeter(i), filepath.Join(dir, fullMeter(i)))
	}
	b.WriteString("places:\n  - name: left\n    connections:\n")
	for i := range fullPoints {
		fmt.Fprintf(&b, "      - {test_point: %s, instrument: %s, channel: 101}\n", fullPoint(i), fullMeter(i))
	}
	return b.String()
}

func fullSheet() string {
	var b strings.Builder
	b.WriteString("name: full\nconsole: Brambling 8\nsoak: {duration: 24h, evidence_at_least_pct: 99, longest_gap: 5m}\ntest_points:\n")
	for i := range fullPoints {
		fmt.Fprintf(&b, "  - {name: %s, measure: dc-voltage, every: 100ms, limit: {low_v: 4.75, high_v: 5.25, source: \"common practice, no source\"}}\n", fullPoint(i))
	}
	return b.String()
}

// beginSoak books a unit in and begins its soak at the left place.
func (k *killedBench) beginSoak(t *testing.T) {
	t.Helper()
	for _, args := range [][]string{
		{"unit", "add", "B8-0147", "--console", "Brambling 8"},
		{"soak", "begin", "--unit", "B8-0147@left", "--for", "2h"},
	} {
		if output, err := k.run(args...); err != nil {
			t.Fatalf("%v: %v: %s", args, err, output)
		}
	}
}

// get is what the daemon answers at a path, with the status.
func (k *killedBench) get(t *testing.T, path string) (int, string) {
	t.Helper()
	response, err := http.Get("http://" + k.address(t) + path)
	if err != nil {
		t.Fatal(err)
	}
	defer response.Body.Close()
	text, err := io.ReadAll(response.Body)
	if err != nil {
		t.Fatal(err)
	}
	return response.StatusCode, string(text)
}

// metric is the sum of a metric's series in the daemon's metrics; 0 if it has none.
func (k *killedBench) metric(t *testing.T, name string) float64 {
	t.Helper()
	status, text := k.get(t, "/metrics")
	if status != http.StatusOK {
		t.Fatalf("/metrics: %d: %s", status, text)
	}
	sum := 0.0
	for line := range strings.Lines(text) {
		if rest, is := strings.CutPrefix(line, name); is && (rest[0] == '{' || rest[0] == ' ') {
			value, err := strconv.ParseFloat(strings.TrimSpace(rest[strings.LastIndexByte(rest, ' '):]), 64)
			if err != nil {
				t.Fatalf("%s: %v", line, err)
			}
			sum += value
		}
	}
	return sum
}

// view is how the daemon says that the bench stands.
func (k *killedBench) view(t *testing.T) page.BenchView {
	t.Helper()
	_, text := k.get(t, "/api/v1/bench")
	var view page.BenchView
	if err := json.Unmarshal([]byte(text), &view); err != nil {
		t.Fatalf("%v: %s", err, text)
	}
	return view
}

// rest lets time pass in which the other processes work.
func rest(d time.Duration) { <-time.After(d) }

// trialTime is how long a trial takes: what an environment variable says, or else.
func trialTime(t *testing.T, variable string, otherwise time.Duration) time.Duration {
	t.Helper()
	return time.Duration(howMany(t, variable, int(otherwise/time.Second))) * time.Second
}
