package checks_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"soakline/checks"
	"soakline/checks/drift"
	"soakline/device"
)

var railKey = checks.CheckKey{TestPoint: "rail-5v", Measure: device.DCVoltage}

func driftCheck() checks.Check {
	return checks.Check{Measure: device.DCVoltage, Limit: checks.Limit{Low: 4.75, High: 5.25, Nominal: math.NaN()},
		Drift: &checks.DriftPlan{WarmUp: 30 * time.Minute, Baseline: time.Hour}}
}

var driftBegin = time.Date(2031, 3, 4, 8, 0, 0, 0, time.UTC)

// feedDrift gives a reading every 10 s: 5.01 V with noise of 2 mV, falling from
// the beginning.
func feedDrift(t *testing.T, w *checks.DriftWatch, hours, fallPerHour float64) (raised []drift.Alarm) {
	t.Helper()
	noise := rand.New(rand.NewPCG(7, 11))
	for i := range int(hours * 360) {
		at := float64(i) / 360
		v := 5.01 + 0.002*noise.NormFloat64() - fallPerHour*at
		raised = append(raised, w.Observe(device.Reading{Measure: device.DCVoltage, Value: v,
			At: driftBegin.Add(time.Duration(i) * 10 * time.Second)})...)
	}
	return raised
}

func newWatch(t *testing.T, check checks.Check) *checks.DriftWatch {
	t.Helper()
	w, err := checks.NewDriftWatch(check, railKey)
	if err != nil {
		t.Fatal(err)
	}
	return w
}

// TestDriftWatch: a fall is told once by each chart and the line, and in words; readings that
// stay raise nothing (invented readings).
func TestDriftWatch(t *testing.T) {
	w := newWatch(t, driftCheck())
	raised := feedDrift(t, w, 8, 0.012)
	if len(raised) == 0 || len(raised) > 3 || len(raised) != len(w.Alarms()) {
		t.Fatalf("alarms %+v", raised)
	}
	for _, alarm := range raised {
		if since := alarm.At.Sub(driftBegin); since < 90*time.Minute || since > 6*time.Hour || !(alarm.By < 0) {
			t.Errorf("alarm %s after %s by %g", alarm.Kind, since, alarm.By)
		}
	}
	s := w.Standing(driftBegin.Add(8 * time.Hour))
	if !s.Learnt || s.Outlook != drift.Ahead || s.Limit != 4.75 || !(s.PerHour > -0.013 && s.PerHour < -0.008) ||
		!(s.SecondsToLimitLow < s.SecondsToLimit && s.SecondsToLimit < s.SecondsToLimitHigh) {
		t.Errorf("%+v", s)
	}
	line := slices.IndexFunc(raised, func(a drift.Alarm) bool { return a.Kind == drift.TrendAlarm })
	if line < 0 {
		t.Fatalf("the line through all readings raised nothing: %+v", raised)
	}
	if text := s.AlarmText(raised[line]); !strings.Contains(text, " lower than at 2031-03-04 08:30 UTC, by the line through all readings") {
		t.Error(text)
	}
	text := s.AlarmText(raised[(line+1)%len(raised)])
	for _, part := range []string{"rail-5v falls ", " mV an hour and meets 4.75 V in about ", " below its baseline (", "since about 2031-03-04 "} {
		if !strings.Contains(text, part) {
			t.Errorf("%q lacks %q", text, part)
		}
	}
	if quiet := newWatch(t, driftCheck()); len(feedDrift(t, quiet, 24, 0)) != 0 {
		t.Errorf("a day without drift raised %+v", quiet.Alarms())
	}
}

// TestDriftStandingIsKept: within a second of the last answer nothing is worked out
// anew, except after an alarm.
func TestDriftStandingIsKept(t *testing.T) {
	w, now := newWatch(t, driftCheck()), driftBegin
	before := w.Standing(now)
	feedDrift(t, w, 1, 0)
	if got := w.Standing(now.Add(999 * time.Millisecond)); !math.IsNaN(got.PerHour) || before.Outlook != got.Outlook {
		t.Errorf("%+v", got)
	}
	if got := w.Standing(now.Add(time.Second)); math.IsNaN(got.PerHour) {
		t.Errorf("%+v", got)
	}
}

// TestDriftText: each outlook in words, the time in what a person plans by.
func TestDriftText(t *testing.T) {
	nan := math.NaN()
	for _, row := range []struct {
		s    checks.DriftStanding
		want string
	}{
		{checks.DriftStanding{PerHour: nan}, "rail-5v: too few readings for a trend"},
		{checks.DriftStanding{PerHour: 0.001, Outlook: drift.NoTrend}, "rail-5v has no steady trend"},
		{checks.DriftStanding{PerHour: 0.0123, Outlook: drift.NoLimit}, "rail-5v rises 12 mV an hour; there is no limit on that side"},
		{checks.DriftStanding{PerHour: -0.0123, Outlook: drift.Passed, Limit: 4.75}, "rail-5v falls 12 mV an hour, and its line has met 4.75 V already"},
		{checks.DriftStanding{PerHour: -0.01234, Outlook: drift.Ahead, Limit: 4.75, SecondsToLimit: 3 * 3600, SecondsToLimitLow: 7200, SecondsToLimitHigh: 5 * 3600},
			"rail-5v falls 12 mV an hour and meets 4.75 V in about 3 h [2 h, 5 h]"},
		{checks.DriftStanding{PerHour: 1.5, Outlook: drift.Ahead, Limit: 5.25, SecondsToLimit: 89, SecondsToLimitLow: 0, SecondsToLimitHigh: math.Inf(1)},
			"rail-5v rises 1.5 V an hour and meets 5.25 V in about 89 s [0 s, more than 100 years]"},
		{checks.DriftStanding{PerHour: 1.5, Outlook: drift.Ahead, Limit: 5.25, SecondsToLimit: 90, SecondsToLimitLow: 9.99 * 3600, SecondsToLimitHigh: 72 * 3600},
			"rail-5v rises 1.5 V an hour and meets 5.25 V in about 2 min [10 h, 3 days]"},
	} {
		row.s.Check = railKey
		if got := row.s.Text(); got != row.want {
			t.Errorf("%q, want %q", got, row.want)
		}
	}
}

// TestNoDriftWatchWithoutPlan: a check without the section has none, and one that
// cannot work is refused by its name.
func TestNoDriftWatchWithoutPlan(t *testing.T) {
	check := driftCheck()
	check.Drift = nil
	if w := newWatch(t, check); w != nil {
		t.Error("a check without a plan is watched")
	}
	check = driftCheck()
	check.Drift.WarmUp = -1
	sheet := checks.Sheet{TestPoints: []checks.TestPoint{{Name: "rail-5v", Checks: []checks.Check{check}}}}
	if _, err := checks.NewDriftWatches(sheet); err == nil || !strings.Contains(err.Error(), "rail-5v") {
		t.Errorf("%v", err)
	}
}

func BenchmarkDriftObserve(b *testing.B) {
	w, err := checks.NewDriftWatch(driftCheck(), railKey)
	if err != nil {
		b.Fatal(err)
	}
	r := device.Reading{Measure: device.DCVoltage, At: driftBegin}
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		r.At, r.Value = r.At.Add(time.Second), 5+0.001*float64(i%7)
		w.Observe(r)
	}
}

func BenchmarkDriftStanding(b *testing.B) {
	w, err := checks.NewDriftWatch(driftCheck(), railKey)
	if err != nil {
		b.Fatal(err)
	}
	for i := range 40000 {
		w.Observe(device.Reading{Value: 5 + 0.001*float64(i%7), At: driftBegin.Add(time.Duration(i) * time.Second)})
	}
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		w.Standing(driftBegin.Add(time.Duration(i) * time.Second))
	}
}
