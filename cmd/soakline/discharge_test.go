package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"soakline/checks"
	"soakline/device"
	"soakline/logger/book"
)

const dischargeSheet = `name: reservoir-alone
console: Brambling 8
soak: {duration: 1h}
test_points:
  - name: reservoir
    discharge: {below_v: 2, watch_for: 3s, load_ohm: 100}
    measure: dc-voltage
    limit: {low_v: 7, high_v: 16, source: common practice}
`

const dischargeBench = `bench: pier-end
book: demo.book
sheets: [sheet.yaml]
instruments:
  - {name: meter, port: %q, command_set: scpi-meter}
places:
  - name: left
    connections:
      - {test_point: reservoir, instrument: meter, channel: 102}
`

// simulatedReservoir starts a simulated unit and writes a bench for its reservoir.
func simulatedReservoir(t *testing.T) (control io.Writer, dir string) {
	t.Helper()
	dir = t.TempDir()
	simulated := start(t, binary(t), "simulate", "--demo", dir)
	var ready struct {
		Ports map[string]string `json:"ports"`
	}
	if err := json.Unmarshal([]byte(simulated.line(t)), &ready); err != nil {
		t.Fatal(err)
	}
	for name, text := range map[string]string{"sheet.yaml": dischargeSheet, "bench.yaml": fmt.Sprintf(dischargeBench, ready.Ports["meter"])} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return simulated.stdin, dir
}

func tell(t *testing.T, control io.Writer, line string) {
	t.Helper()
	if _, err := fmt.Fprintln(control, line); err != nil {
		t.Fatal(err)
	}
}

// TestDischarge watches a reservoir through power-off, a discharge resistor, a
// meter that falls silent, and the wait below. What is shown at each stage is what
// the instrument has just said, or that it is not known; never a word that claims
// more.
func TestDischarge(t *testing.T) {
	control, dir := simulatedReservoir(t)
	bench := filepath.Join(dir, "bench.yaml")
	add := start(t, binary(t), "unit", "add", "B8-0147", "--console", "Brambling 8", "--bench", bench)
	if err := add.Wait(); err != nil {
		t.Fatalf("%v: %s", err, add.log)
	}
	watch := start(t, binary(t), "discharge", "--unit", "B8-0147", "--bench", bench)
	var all strings.Builder
	until := func(pattern string) {
		t.Helper()
		for {
			line := watch.line(t)
			fmt.Fprintln(&all, line)
			if regexp.MustCompile(pattern).MatchString(line) {
				return
			}
		}
	}
	until(`Unplugged is not discharged`)
	until(`^reservoir +11\.\d+ V +not falling`)
	tell(t, control, "fault B8-0147 power off")
	until(`^reservoir +\d\.\d+ V +falling`)
	tell(t, control, "fault meter silence 3s")
	until(`^reservoir +not known \(no reading for \d s\)`)
	tell(t, control, "fault B8-0147 clip 100 20s")
	until(`^reservoir .* below 2 V since .*it may come back`)
	until(`it may still come back: measure again before touching`)
	until(`^   capacitance +\d+.* uF \+/- \d`)
	if err := watch.Wait(); err != nil {
		t.Errorf("%v: %s", err, watch.log)
	}
	if word := regexp.MustCompile(`(?i)\bsafe\b`).FindString(all.String()); word != "" {
		t.Errorf("%q in\n%s", word, all.String())
	}
	checkDischargeInBook(t, filepath.Join(dir, "demo.book"))
}

// TestDischargeLeftEarly: whoever leaves before the end is told that nothing is known,
// and a script by the exit code alone.
func TestDischargeLeftEarly(t *testing.T) {
	for _, test := range []struct {
		watched, json bool
		code          int
		says          string
	}{
		{code: exitUndecided, says: "not known"},
		{json: true, code: exitUndecided},
		{watched: true},
	} {
		var said strings.Builder
		s := dischargeScreen{w: &said, watched: test.watched, json: test.json}
		err := s.outcome(context.Canceled)
		code := 0
		if exit, ok := errors.AsType[*exitError](err); ok {
			code = exit.code
		} else if err != nil {
			t.Error(err)
		}
		if code != test.code || !strings.Contains(said.String(), test.says) || (test.says == "" && said.Len() > 0) {
			t.Errorf("%+v: code %d, said %q", test, code, said.String())
		}
	}
}

// checkDischargeInBook: the readings and what became of them are kept.
func checkDischargeInBook(t *testing.T, path string) {
	t.Helper()
	b, err := book.Open(t.Context(), path, book.Options{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	n, err := b.Count(t.Context(), book.Filter{Unit: "B8-0147", TestPoint: checks.TestPointName("reservoir")})
	if err != nil || n < 10 {
		t.Errorf("%d readings in the book (%v)", n, err)
	}
	kept, err := b.Last(t.Context(), book.Filter{Unit: "B8-0147", Measure: device.Capacitance})
	if err != nil || len(kept) != 1 || !(kept[0].Value > 0) || !(kept[0].StandardUncertainty > 0) {
		t.Errorf("capacitance in the book: %+v (%v)", kept, err)
	}
	events, err := b.Events(t.Context(), "pier-end", time.Time{}, time.Time{})
	if err != nil {
		t.Fatal(err)
	}
	var text strings.Builder
	for _, event := range events {
		if event.Kind == "discharge" {
			fmt.Fprintln(&text, event.Text)
		}
	}
	for _, want := range []string{"B8-0147 reservoir: 11", "falling", "not known", "below 2 V"} {
		if !strings.Contains(text.String(), want) {
			t.Errorf("no %q among the events:\n%s", want, &text)
		}
	}
}
