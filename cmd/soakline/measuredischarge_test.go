package main

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// decay is 320 V on 100 uF and 220 kohm (W-31, derived).
func decay(seconds float64) float64 { return 320 * math.Exp(-seconds/22) }

// W-31 says 36.83 s to 60 V and gives the capacitance back.
func TestMeasureDischarge(t *testing.T) {
	path := saved(t, "off.csv", 60, every(0.5), decay)
	plot := filepath.Join(t.TempDir(), "off.png")
	text := typed(t, exitDone, "", "measure", "discharge", path, "--load-ohm", "220k", "--meter-ohm", "1e12", "--safe-v", "60", "--plot", plot)
	matches(t, text, `time constant +(22\.0|21\.99)`, `capacitance +(100\.0|99\.99)`, `below 60 V, from the begin +36\.8`, `Measure again before touching`)
	if strings.Contains(strings.ToLower(text), "safe") {
		t.Errorf("it says safe:\n%s", text)
	}
	if _, err := os.Stat(plot); err != nil {
		t.Error(err)
	}
}

// A meter's readings come when they come; also from standard input.
func TestMeasureDischargeOfUnevenReadings(t *testing.T) {
	path := saved(t, "uneven.csv", 60, func(i int) float64 { return float64(i) + 0.3*math.Sin(float64(i*i)) }, decay)
	content, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for file, stdin := range map[string]string{path: "", "-": string(content)} {
		var got map[string]any
		if err := json.Unmarshal([]byte(typed(t, exitDone, stdin, "measure", "discharge", file, "--capacitance-f", "100u", "--meter-ohm", "1e12", "--json")), &got); err != nil {
			t.Fatal(err)
		}
		if tau, ok := got["tau_s"].(float64); !ok || math.Abs(tau-22) > 0.02 {
			t.Errorf("%s: tau_s is %v", file, got["tau_s"])
		}
		if load, ok := got["load_ohm"].(float64); !ok || math.Abs(load/220e3-1) > 0.002 {
			t.Errorf("%s: load_ohm is %v", file, got["load_ohm"])
		}
		for _, key := range []string{"seconds_to_safe", "safe_v"} {
			if value, there := got[key]; !there || value != nil {
				t.Errorf("%s is %v, want null", key, value)
			}
		}
	}
}

func TestMeasureDischargeIsRefused(t *testing.T) {
	path := saved(t, "off.csv", 60, every(0.5), decay)
	words := filepath.Join(t.TempDir(), "words.csv")
	if err := os.WriteFile(words, []byte("one,two\nthree,four\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, row := range []struct {
		want int
		says string
		args []string
	}{
		{exitUsage, "load-ohm", []string{path, "--load-ohm", "1k", "--capacitance-f", "1u"}},
		{exitUsage, "safe_v", []string{path, "--safe-v", "-1"}},
		{exitUsage, "capacitance-f", []string{path, "--capacitance-f", "much"}},
		{exitTrouble, "words.csv", []string{words}},
		{exitTrouble, "gone.csv", []string{"gone.csv"}},
	} {
		matches(t, typed(t, row.want, "", append([]string{"measure", "discharge"}, row.args...)...), row.says)
	}
}
