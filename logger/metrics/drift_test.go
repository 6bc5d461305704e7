package metrics

import (
	"math"
	"os/exec"
	"strings"
	"testing"

	"soakline/checks"
	"soakline/checks/drift"
)

// TestDrift: slope, time to the limit and alarms of a watched check, none of an
// unwatched one, and no time where there is no trend.
func TestDrift(t *testing.T) {
	bench := busy()
	watched := &bench.Soaks[0].Checks[0]
	watched.Drift = &checks.DriftStanding{Check: watched.Check, PerHour: -0.012, SecondsToLimit: 10800,
		Alarms: []drift.Alarm{{Kind: drift.CUSUMAlarm}}}
	quiet := &bench.Soaks[0].Checks[1]
	quiet.Drift = &checks.DriftStanding{Check: quiet.Check, PerHour: math.NaN(), SecondsToLimit: math.NaN()}
	got := text(t, scrape(t, bench.handler(), ""))
	const labels = `{bench="pier-end",console="Brambling 8",instrument="meter",measure="dc-voltage",test_point="rail-5v",unit="B8-0147"} `
	for _, line := range []string{"soakline_drift_volts_per_hour" + labels + "-0.012\n", "soakline_seconds_to_limit" + labels + "10800\n"} {
		if !strings.Contains(got, line) {
			t.Errorf("no line %s", line)
		}
	}
	for name, want := range map[string]int{"drift_volts_per_hour{": 1, "seconds_to_limit{": 1, "drift_alarm{": 6, "drift_celsius_per_hour{": 0} {
		if n := strings.Count(got, "\nsoakline_"+name); n != want {
			t.Errorf("%d lines of %s, want %d", n, name, want)
		}
	}
	if n := strings.Count(got, `chart="cusum"`); n != 2 {
		t.Errorf("%d of the CUSUM chart", n)
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
