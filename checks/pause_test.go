package checks_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"soakline/checks"
	"soakline/device"
)

// cycled is the sheet of one rail that is switched off twice for a minute, after five
// minutes on each time, in an hour; all figures are invented.
func cycled() checks.Sheet {
	sheet := oneRail()
	sheet.Soak.Duration, sheet.Soak.EvidenceAtLeast, sheet.Soak.LongestGap = time.Hour, 0.99, 5*time.Second
	sheet.Soak.Cycles = &checks.CyclePlan{TestPoint: sheet.TestPoints[0].Name, Cycles: 2, On: 5 * time.Minute, Off: time.Minute}
	for i := range sheet.TestPoints[0].Checks {
		sheet.TestPoints[0].Checks[i].Settle, sheet.TestPoints[0].Checks[i].Hold = 5*time.Second, 2*time.Second
	}
	return sheet
}

// switchedReadings are a reading a second but for the silences; what is read while
// the unit is off is 0 V, and a start overshoots for a second.
func switchedReadings(pauses []checks.Pause, value func(second int) float64, silent bool) []checks.Tagged {
	var all []checks.Tagged
	for s := range 3601 {
		v := value(s)
		off := false
		for _, p := range pauses {
			off = off || !at(float64(s)).Before(p.From) && at(float64(s)).Before(p.To)
			if at(float64(s)).Equal(p.To) {
				v = 9
			}
		}
		if off && silent {
			continue
		}
		if off {
			v = 0
		}
		all = append(all, checks.Tagged{TestPoint: "rail-5v", Reading: device.Reading{Measure: device.DCVoltage, Value: v, At: at(float64(s))}})
	}
	return all
}

func five(int) float64 { return 5.01 }

func pausesAt(from1, to1, from2, to2 float64) []checks.Pause {
	return []checks.Pause{{From: at(from1), To: at(to1)}, {From: at(from2), To: at(to2)}}
}

// ofKind are pauses of which the first is of a kind.
func ofKind(pauses []checks.Pause, kind checks.PauseKind) []checks.Pause {
	all := slices.Clone(pauses)
	all[0].Kind = kind
	return all
}

func TestPlannedPauses(t *testing.T) {
	planned := pausesAt(300, 361, 661, 722)
	outside := func(from, to int) func(int) float64 {
		return func(s int) float64 {
			if s >= from && s < to {
				return 5.6
			}
			return 5.01
		}
	}
	tests := []struct {
		name    string
		pauses  []checks.Pause // that the book has
		were    []checks.Pause // that really were
		value   func(int) float64
		silent  bool
		plan    bool
		want    checks.Outcome
		because checks.ReasonKind
	}{
		{"as planned, read as 0 V", planned, planned, five, false, true, checks.Pass, ""},
		{"as planned, silent", planned, planned, five, true, true, checks.Pass, ""},
		{"not in the book", nil, planned, five, true, true, checks.Undecided, checks.LongGap},
		{"not in the sheet", planned, planned, five, true, false, checks.Undecided, checks.LongGap},
		{"too long by a minute", pausesAt(300, 421, 661, 722), pausesAt(300, 421, 661, 722), five, true, true, checks.Undecided, checks.LongGap},
		{"too long by what a command takes", pausesAt(300, 369, 661, 722), pausesAt(300, 369, 661, 722), five, true, true, checks.Pass, ""},
		{"never on again", []checks.Pause{{From: at(300)}}, []checks.Pause{{From: at(300), To: at(4000)}}, five, true, true, checks.Undecided, checks.LongGap},
		{"ends while it is off", []checks.Pause{{From: at(3560)}}, []checks.Pause{{From: at(3560), To: at(4000)}}, five, true, true, checks.Undecided, checks.CyclesMissing},
		{"one of two", planned[:1], planned[:1], five, true, true, checks.Undecided, checks.CyclesMissing},
		{"one that was not followed", ofKind(planned, checks.NotFollowed), planned, five, true, true, checks.Undecided, checks.CyclesMissing},
		{"the same is no planned pause", ofKind(planned, checks.NotFollowed), planned, five, true, true, checks.Undecided, checks.LongGap},
		{"one by a program that was away", ofKind(planned, checks.InterruptedPause), planned, five, true, true, checks.Undecided, checks.LongGap},
		{"outside after a start", planned, planned, outside(400, 420), true, true, checks.Fail, checks.LeftLimit},
		{"outside right before it is switched off", planned, planned, outside(299, 300), true, true, checks.Undecided, checks.CutOff},
		{"silent after a start", planned, pausesAt(300, 500, 661, 722), five, true, true, checks.Undecided, checks.LongGap},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			sheet := cycled()
			if !tt.plan {
				sheet.Soak.Cycles = nil
			}
			record := checks.SoakRecord{Unit: "B8-0147", Begin: begin, Planned: time.Hour, End: at(3600), Pauses: tt.pauses,
				Readings: slices.Values(switchedReadings(tt.were, tt.value, tt.silent))}
			v := checks.Judge(sheet, record)
			because := slices.ContainsFunc(v.Reasons, func(r checks.Reason) bool { return r.Kind == tt.because })
			if v.Outcome != tt.want || tt.because != "" && !because {
				t.Errorf("%s, evidence %v, because of %+v", v.Outcome, v.Evidence, v.Reasons)
			}
			if tt.want == checks.Pass && v.Evidence != 1 {
				t.Errorf("evidence %v, want all of it", v.Evidence)
			}
		})
	}
}

// The live judgement is told of a pause when it comes; the record is judged with all
// of them beforehand. Both say the same, bit for bit.
func TestPausesLiveAndFromTheRecord(t *testing.T) {
	pauses := pausesAt(300, 365, 700, 775)
	readings := switchedReadings(pauses, func(s int) float64 { return 5 + 0.0001*float64(s%7) }, false)
	live := checks.NewJudgement(cycled(), "B8-0147", begin, time.Hour)
	next := pauses
	for _, r := range readings {
		if len(next) > 0 && !r.Reading.At.Before(next[0].From) {
			live.Pause(next[0])
		}
		if len(next) > 0 && !r.Reading.At.Before(next[0].To) {
			live.Continue(next[0])
			next = next[1:]
		}
		live.Observe(r.TestPoint, r.Reading)
		live.Advance(r.Reading.At.Add(time.Millisecond))
	}
	asText := func(v checks.Verdict) string { return fmt.Sprintf("%+v", v) }
	got := live.End(at(3600))
	want := checks.Judge(cycled(), checks.SoakRecord{Unit: "B8-0147", Begin: begin, Planned: time.Hour, End: at(3600), Pauses: pauses, Readings: slices.Values(readings)})
	if a, b := asText(got), asText(want); a != b {
		t.Errorf("live:\n%s\nfrom the record:\n%s", a, b)
	}
	if states := live.States(); states[0] != checks.Within {
		t.Errorf("%s after the last start", states[0])
	}
}

// While the unit is off its checks settle, however long no reading comes.
func TestPausedIsNotSilent(t *testing.T) {
	live := checks.NewJudgement(cycled(), "B8-0147", begin, time.Hour)
	for _, r := range switchedReadings(nil, five, false)[:300] {
		live.Observe(r.TestPoint, r.Reading)
	}
	if changes := live.Pause(checks.Pause{From: at(300)}); len(changes) != 1 || changes[0].To != checks.Settling {
		t.Errorf("%+v", changes)
	}
	live.Advance(at(355))
	if states := live.States(); states[0] != checks.Settling {
		t.Errorf("%s while off", states[0])
	}
	if share := live.Evidence(at(355)); share != 1 {
		t.Errorf("evidence %v while off", share)
	}
}

func TestCyclePlanTellsEveryMistake(t *testing.T) {
	sheet := cycled()
	sheet.Soak.Cycles = &checks.CyclePlan{TestPoint: "attic", Cycles: 0, On: time.Second, Off: 0}
	sheet.TestPoints[0].Checks[0].Drift = &checks.DriftPlan{Baseline: time.Hour}
	err := sheet.Validate()
	for _, want := range []string{"power_cycles.test_point: there is no test point", "power_cycles.cycles: 0", "power_cycles.off: 0s", "power_cycles.on: 1s", "checks[0].drift: drift is watched"} {
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v does not say %q", err, want)
		}
	}
	sheet = cycled()
	sheet.Soak.Cycles.Cycles = 10
	if err := sheet.Validate(); err == nil || !strings.Contains(err.Error(), "10 cycles take 1h0m0s") {
		t.Errorf("%v", err)
	}
	if err := cycled().Validate(); err != nil {
		t.Error(err)
	}
}
