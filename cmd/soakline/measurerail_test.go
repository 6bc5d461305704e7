package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// typed runs a command as it is typed, and demands an exit code.
func typed(t *testing.T, want int, stdin string, args ...string) string {
	t.Helper()
	var out bytes.Buffer
	root := rootCommand()
	root.SetArgs(args)
	root.SetIn(strings.NewReader(stdin))
	root.SetOut(&out)
	root.SetErr(io.Discard)
	var trouble bytes.Buffer
	if code := explain(&trouble, root.ExecuteContext(t.Context())); code != want {
		t.Fatalf("soakline %s ended with %d, want %d: %s", strings.Join(args, " "), code, want, trouble.String())
	}
	return out.String() + trouble.String()
}

// saved writes a record of time and volts.
func saved(t *testing.T, name string, n int, times func(i int) float64, at func(seconds float64) float64) string {
	t.Helper()
	var text strings.Builder
	text.WriteString("time_s,value\n")
	for i := range n {
		fmt.Fprintf(&text, "%.6f,%.4f\n", times(i), at(times(i)))
	}
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, []byte(text.String()), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

func every(interval float64) func(int) float64 {
	return func(i int) float64 { return float64(i) * interval }
}

// halfWave is a reservoir of 4700 uF at 0.45 A with ideal diodes, 12 V and 50 Hz
// (power.md W-22, derived): the sine where it is above the straight fall.
func halfWave(seconds float64) float64 {
	const omega, fall, period = 2 * math.Pi * 50, 0.45 / 4700e-6, 1.0 / 50
	t := math.Mod(seconds, period)
	leave := math.Asin(fall/(omega*12)) / omega
	if t < leave {
		return 12 * math.Cos(omega*t)
	}
	line := 12*math.Cos(omega*leave) - fall*(t-leave)
	if t < period*3/4 {
		return line
	}
	return max(line, 12*math.Cos(omega*t))
}

func TestMeasureRail(t *testing.T) {
	path := saved(t, "reservoir.csv", 4000, every(50e-6), halfWave)
	plot := filepath.Join(t.TempDir(), "rail.svg")
	text := typed(t, exitDone, "", "measure", "rail", path, "--mains-hz", "50", "--load-a", "0.45", "--plot", plot)
	matches(t, text, `ripple frequency +50\.`, `capacitance +47\d\d\.`, `one leg of the rectifier is out`, `\+/-`)
	if _, err := os.Stat(plot); err != nil {
		t.Error(err)
	}
	var got map[string]any
	if err := json.Unmarshal([]byte(typed(t, exitDone, "", "measure", "rail", path, "--load-a", "0.45", "--json")), &got); err != nil {
		t.Fatal(err)
	}
	if farads, ok := got["capacitance_f"].(float64); !ok || math.Abs(farads/4700e-6-1) > 0.03 {
		t.Errorf("capacitance_f is %v", got["capacitance_f"])
	}
	for _, key := range []string{"dc_v", "ripple_pp_v", "ripple_rms_v", "ripple_hz", "esr_ohm", "dropouts", "findings"} {
		if _, there := got[key]; !there {
			t.Errorf("no key %s", key)
		}
	}
	without := typed(t, exitDone, "", "measure", "rail", path)
	matches(t, without, `capacitance +not measured`)
}

func TestMeasureRailDipsAndStart(t *testing.T) {
	dip := saved(t, "rail.csv", 2000, every(1e-4), func(s float64) float64 {
		switch {
		case s < 0.02:
			return 0
		case s >= 0.1 && s < 0.11:
			return 0.2
		}
		return 5
	})
	matches(t, typed(t, exitDone, "", "measure", "rail", dip, "--nominal-v", "5"), `start at 20 ms`, `dropout at (0.1 s|100 ms) for 10 ms, down to 0.2 V`, `loose connector`)
}

// 0.5 A more on 1000 uF with 0.5 ohm, beside a source of 1 ohm: the terminals jump by
// 0.5 A through both resistances in parallel and settle 0.5 V lower, with (1 + 0.5)
// ohm times 1000 uF (closed form of the circuit).
func TestMeasureRailLoadStep(t *testing.T) {
	path := saved(t, "step.csv", 2000, every(10e-6), func(s float64) float64 {
		if s < 4e-3 {
			return 12
		}
		return 11.5 + (0.5-0.5/3)*math.Exp(-(s-4e-3)/1.5e-3)
	})
	matches(t, typed(t, exitDone, "", "measure", "rail", path, "--step-a", "0.5"),
		`capacitance +(99\d|100\d)`, `series resistance +(0\.49|0\.50)`, `load step at 4 ms: sag 0\.\d+ V`, `source of about 1 ohm`)
}

func TestMeasureRailIsRefused(t *testing.T) {
	path := saved(t, "rail.csv", 100, every(1e-3), func(float64) float64 { return 5 })
	short := saved(t, "short.csv", 3, every(1e-3), func(float64) float64 { return 5 })
	for _, row := range []struct {
		want int
		says string
		args []string
	}{
		{exitUsage, "mains_hz", []string{path, "--mains-hz", "55"}},
		{exitUsage, "load-a", []string{path, "--load-a", "1", "--load-ohm", "12"}},
		{exitUsage, "low_v", []string{path, "--low-v", "5", "--high-v", "5"}},
		{exitUsage, ".svg or .png", []string{path, "--plot", "x.gif"}},
		{exitTrouble, "short.csv", []string{short}},
		{exitTrouble, "gone.csv", []string{"gone.csv"}},
		{exitUsage, "arg", nil},
	} {
		matches(t, typed(t, row.want, "", append([]string{"measure", "rail"}, row.args...)...), row.says)
	}
}
