package main

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"soakline/checks"
	"soakline/config"
	"soakline/device"
	"soakline/logger/book"
	"soakline/logger/page"
)

// lineOfUnits is a book of 14 units that passed a soak and one that failed.
func lineOfUnits(t *testing.T) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "line.book")
	b, err := book.Open(t.Context(), path, book.Options{Program: program()})
	if err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile(filepath.Join("..", "..", "config", "sheets", "brambling-8.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	for i := range 15 {
		unit, begin := checks.UnitID(fmt.Sprintf("B8-%04d", i)), time.Now().AddDate(0, 0, -20+i)
		outcome, rail := checks.Pass, 5.01+0.004*float64(i%4)
		if i == 14 {
			outcome, rail = checks.Fail, 5.4
		}
		err := b.AddUnit(t.Context(), book.Unit{ID: unit, Console: "Brambling 8"})
		var id book.SoakID
		if err == nil {
			id, err = b.BeginSoak(t.Context(), book.Soak{Bench: "quay", Place: fmt.Sprint(i), Unit: unit, Sheet: book.SheetCopy{Name: "brambling-8", Text: text}, Planned: time.Hour, Begin: begin})
		}
		if err == nil {
			err = b.EndSoak(t.Context(), id, book.SoakEnded, begin.Add(time.Hour), "")
		}
		if err == nil {
			err = b.PutVerdict(t.Context(), id, begin.Add(time.Hour), checks.Verdict{Outcome: outcome, Begin: begin, End: begin.Add(time.Hour), Checks: []checks.CheckResult{
				{Check: checks.CheckKey{TestPoint: "rail-5v", Measure: device.DCVoltage}, Outcome: outcome, Readings: 3600, Mean: rail},
				{Check: checks.CheckKey{TestPoint: "composite", Measure: device.Overshoot}, Outcome: checks.Pass, Readings: 1800, Mean: 0.01 + 0.001*float64(i%3)}}})
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}
	return path
}

func TestLineCommand(t *testing.T) {
	kept := lineOfUnits(t)
	code, out, wrong := soakline(t, "line", "--since", "90d", "--book", kept)
	for _, want := range []string{"15 units, 14 passed first time (93.3 % [70, 99]); 1 failed, 0 undecided, 0 of these passed later", "rail-5v dc-voltage", "1 unit\n",
		"on soak: 15 soaks, 15 h 00 min in all, 1 h 00 min a unit (median of 15)", "Cpk"} {
		if !strings.Contains(out, want) {
			t.Errorf("exit %d, %q is not in\n%s%s", code, want, out, wrong)
		}
	}
	code, out, _ = soakline(t, "line", "--since", "3d", "--book", kept)
	if code != exitDone || !strings.Contains(out, "no unit had its first verdict in this time") {
		t.Errorf("a time without units: exit %d: %s", code, out)
	}
	code, out, _ = soakline(t, "line", "--book", kept, "--json")
	var view page.LineFiguresView
	if err := json.Unmarshal([]byte(out), &view); code != exitDone || err != nil || view.Units != 15 || view.Since != nil || view.IntervalBy != "Wilson score" || len(view.Spreads) != 2 {
		t.Fatalf("exit %d, %+v (%v)", code, view, err)
	}
}

// TestSuggestedLimitsCanBePasted: what is proposed is a limit that a sheet takes.
func TestSuggestedLimitsCanBePasted(t *testing.T) {
	kept := lineOfUnits(t)
	before, err := os.ReadFile(kept)
	if err != nil {
		t.Fatal(err)
	}
	code, out, wrong := soakline(t, "line", "--suggest", "--book", kept)
	blocks := strings.Split(strings.TrimSpace(out), "\n\n")
	if code != exitDone || len(blocks) != 2 {
		t.Fatalf("exit %d, %s%s", code, out, wrong)
	}
	for i, check := range []string{"name: composite\n    measure: overshoot", "name: rail-5v\n    measure: dc-voltage"} {
		text := "name: pasted\nconsole: Brambling 8\nsoak: {duration: 1h, evidence_at_least_pct: 99, longest_gap: 5m}\ntest_points:\n  - " + check + "\n    every: 1s\n    " +
			strings.ReplaceAll(blocks[i], "\n", "\n    ") + "\n"
		sheet, err := config.ParseSheet("pasted", []byte(text))
		if err != nil {
			t.Fatalf("%v in\n%s", err, text)
		}
		limit := sheet.TestPoints[0].Checks[0].Limit
		if i == 0 && !(limit.High > 0.012 && limit.High < 0.016) || i == 1 && !(limit.Low > 4.99 && limit.Low < 5.01 && limit.High > 5.02 && limit.High < 5.04) {
			t.Errorf("limit %+v", limit)
		}
	}
	if after, err := os.ReadFile(kept); err != nil || string(after) != string(before) {
		t.Errorf("the book has changed (%v)", err)
	}
}

func TestLineRefuses(t *testing.T) {
	kept := judgedBook(t)
	for _, row := range []struct {
		code int
		want string
		args []string
	}{
		{exitUsage, `--since "soon": give how long ago as 90d`, []string{"--since", "soon", "--book", kept}},
		{exitUsage, `--since "-3d"`, []string{"--since", "-3d", "--book", kept}},
		{exitTrouble, "no such book", []string{"--book", "none.book"}},
		{exitTrouble, "no check has the 10 good units", []string{"--suggest", "--book", kept}},
	} {
		code, _, wrong := soakline(t, append([]string{"line"}, row.args...)...)
		if code != row.code || !strings.Contains(wrong, row.want) || strings.Count(wrong, "\n") != 1 {
			t.Errorf("%v: exit %d: %s; want %d, %q", row.args, code, wrong, row.code, row.want)
		}
	}
}
