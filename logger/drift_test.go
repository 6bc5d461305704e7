package logger

import (
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"soakline/checks"
	"soakline/device"
	"soakline/logger/book"
)

// driftRig is a bench whose sheet watches its rail for drift; all figures are
// invented.
func driftRig(t *testing.T, settings Settings) *rig {
	sheet := testSheet()
	sheet.Soak.Duration = 12 * time.Hour
	sheet.TestPoints[0].Checks[0].FreshFor = time.Minute
	sheet.TestPoints[0].Checks[0].Drift = &checks.DriftPlan{WarmUp: 10 * time.Minute, Baseline: time.Hour}
	settings.Sheets = []checks.Sheet{sheet}
	r := startRig(t, settings)
	r.options.ParseSheet = func(string, []byte) (checks.Sheet, error) { return sheet, nil }
	return r.run()
}

// wander feeds a reading every 10 s from one minute of the soak to another, falling
// by so much an hour, with a ripple of 2 mV that stands for noise.
func wander(r *rig, from, to int, perHour float64) {
	for i := from * 6; i < to*6; i++ {
		r.volts(rail, 5.02-perHour*float64(i)/360+0.002*(float64(i*7919%101)/50-1))
		time.Sleep(10 * time.Second)
	}
	r.sync()
}

func driftEvents(r *rig) (told []book.Event) {
	for _, e := range r.events(programName) {
		if e.Kind == device.Drifting {
			told = append(told, e)
		}
	}
	return told
}

func driftOf(t *testing.T, r *rig) CheckStatus {
	t.Helper()
	snapshot, err := r.Snapshot(t.Context())
	if err != nil || len(snapshot.Soaks) != 1 {
		t.Fatalf("%d soaks, %v", len(snapshot.Soaks), err)
	}
	return snapshot.Soaks[0].Checks[0]
}

// TestDriftIsToldOnce: a rail that falls 12 mV an hour is told of once by each chart
// while it is within, changes no verdict, and is neither forgotten nor told again
// when the program starts anew.
func TestDriftIsToldOnce(t *testing.T) {
	settings := testSettings(t)
	synctest.Test(t, func(t *testing.T) {
		r := driftRig(t, settings)
		r.begin("B8-0147", "left", 0)
		wander(r, 0, 300, 0.012)
		told, status := driftEvents(r), driftOf(t, r)
		if len(told) == 0 || len(told) > 3 || len(status.Drift.Alarms) != len(told) {
			t.Fatalf("events %+v, alarms %+v", told, status.Drift.Alarms)
		}
		if text := told[0].Text; !strings.HasPrefix(text, "B8-0147: rail-5v falls 1") || !strings.Contains(text, "and meets 4.75 V in about") {
			t.Errorf("the event is %q", text)
		}
		if !strings.Contains(r.log.String(), "kind=drift") || status.State != checks.Within {
			t.Errorf("state %s, log %s", status.State, r.log)
		}
		before := *status.Drift
		r.close()
		r = driftRig(t, settings)
		after := *driftOf(t, r).Drift
		if after.PerHour != before.PerHour || after.SecondsToLimit != before.SecondsToLimit || len(after.Alarms) != len(before.Alarms) {
			t.Errorf("after the restart %+v, before %+v", after, before)
		}
		wander(r, 300, 310, 0.012)
		if again := driftEvents(r); len(again) != len(told) {
			t.Errorf("told again: %+v", again)
		}
		if err := r.EndSoak(t.Context(), "B8-0147", "seen enough"); err != nil {
			t.Fatal(err)
		}
		for _, reason := range (<-r.finished).Verdict.Reasons {
			if reason.Kind != checks.EndedEarly {
				t.Errorf("drift alone is a reason: %+v", reason)
			}
		}
		r.close()
	})
}

// TestNoDriftIsToldOfNothing: a rail that stays raises nothing in ten hours.
func TestNoDriftIsToldOfNothing(t *testing.T) {
	settings := testSettings(t)
	synctest.Test(t, func(t *testing.T) {
		r := driftRig(t, settings)
		r.begin("B8-0147", "left", 0)
		wander(r, 0, 600, 0)
		if told, status := driftEvents(r), driftOf(t, r); len(told) != 0 || status.Drift == nil || !status.Drift.Learnt {
			t.Errorf("told %+v, %+v", told, status.Drift)
		}
		r.close()
	})
}

// TestDriftThatBeginsInMidSoak: a rail that begins to fall after six hours is told
// of with the slope and the time to the limit since then.
func TestDriftThatBeginsInMidSoak(t *testing.T) {
	settings := testSettings(t)
	synctest.Test(t, func(t *testing.T) {
		r := driftRig(t, settings)
		r.begin("B8-0147", "left", 0)
		begin := time.Now()
		wander(r, 0, 360, 0)
		for i := range 180 * 6 {
			r.volts(rail, 5.02-0.012*float64(i)/360+0.002*(float64(i*7919%101)/50-1))
			time.Sleep(10 * time.Second)
		}
		r.sync()
		drift := driftOf(t, r).Drift
		if from := drift.TrendSince.Sub(begin); from < 5*time.Hour+30*time.Minute || from > 6*time.Hour+30*time.Minute {
			t.Errorf("counted from %v after the begin", from)
		}
		if drift.PerHour < -0.0125 || drift.PerHour > -0.0115 {
			t.Errorf("slope %v an hour, want -12 mV", drift.PerHour)
		}
		if hours := drift.SecondsToLimit / 3600; hours < 18 || hours > 21 { // 5.02 V less 3 h of it, to 4.75 V
			t.Errorf("%v h to the limit, want 19.5", hours)
		}
		r.close()
	})
}
