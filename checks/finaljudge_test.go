package checks_test

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"soakline/checks"
	"soakline/device"
)

// finalSheet has a step of every kind; all its figures are invented.
func finalSheet() checks.Sheet {
	sheet := benchSheet()
	sheet.TestPoints[0].Checks[0].Limit = band(4.75, 5.25, 1)
	sheet.TestPoints[0].Discharge = &checks.DischargePlan{BelowVolts: 2, WatchFor: time.Minute}
	sheet.Soak.Duration = time.Hour
	sheet.Final = checks.FinalPlan{AgainAtMost: 1, Steps: []checks.FinalStep{
		{Name: "soaked", Kind: checks.StepSoak, Soak: checks.SoakCondition{NotOlder: 24 * time.Hour}},
		{Name: "warm", Kind: checks.StepWait, Wait: 10 * time.Second},
		{Name: "rail", Kind: checks.StepMeasure, TestPoint: "rail-5v", Repeats: 2, After: []checks.StepName{"warm"},
			Settling: checks.StepSettling{Measure: device.DCVoltage, Spread: 0.01, For: time.Second, Within: 5 * time.Second},
			Causes:   []string{"a loose clip"}, CausesLow: []string{"regulator worn"}, CausesHigh: []string{"ground lead open"}},
		{Name: "sound", Kind: checks.StepQuestion, Question: "Is there a hiss?", Sense: checks.Listen, PassesWith: checks.No, Causes: []string{"output stage"}},
		{Name: "empty", Kind: checks.StepDischarge, TestPoint: "rail-5v", After: []checks.StepName{"rail"}},
	}}
	return sheet
}

// railReading is a reading of the rail with u 0.005 V: the guard band is 0.01 V.
func railReading(repeat int, value float64) checks.StepReading {
	return checks.StepReading{Repeat: repeat, TestPoint: "rail-5v", Measure: device.DCVoltage, Instrument: "meter", At: at(100), Value: value, U: 0.005, Averaged: 5}
}

// goodRecord is a record that passes.
func goodRecord() checks.FinalRecord {
	result := func(step checks.StepName, kind checks.StepKind) checks.StepResult {
		return checks.StepResult{Step: step, Kind: kind, Act: checks.Taken, Begin: at(90), End: at(110)}
	}
	soaked, warm, rail, sound, empty := result("soaked", checks.StepSoak), result("warm", checks.StepWait), result("rail", checks.StepMeasure),
		result("sound", checks.StepQuestion), result("empty", checks.StepDischarge)
	soaked.Soak, warm.Waited, sound.Answer = 3, 10*time.Second, checks.No
	rail.TestPoint, rail.Readings, rail.Settled = "rail-5v", []checks.StepReading{railReading(1, 5.01), railReading(2, 5.02)}, checks.SettledReport{Settled: true}
	empty.TestPoint, empty.Watched, empty.Volts = "rail-5v", true, 1.2
	return checks.FinalRecord{Unit: "B8-0147", Begin: at(0), End: at(200), SheetHash: "3f2a", Results: []checks.StepResult{soaked, warm, rail, sound, empty},
		Instruments: []checks.FinalInstrument{{Name: "meter", Identity: "Saltmarsh,M6,7,1", Since: at(0)}},
		Soaks: []checks.FinalSoak{{Soak: 3, SheetHash: "3f2a", Ended: true, Instruments: []string{"meter"},
			Verdict: checks.Verdict{Outcome: checks.Pass, Unit: "B8-0147", Begin: at(-7200), End: at(-3600), Evidence: 1}}}}
}

// kinds lists the kinds of the reasons of a verdict.
func kinds(v checks.FinalVerdict) string {
	var all []string
	for _, r := range v.Reasons {
		all = append(all, string(r.Kind))
	}
	return strings.Join(all, " ")
}

// TestJudgeFinal changes one thing of a record that passes. The outcomes follow from
// the four-way statement of ILAC-G8:09/2019, 4.2.3, and from what the sheet says; that
// missing evidence is undecided is our rule.
func TestJudgeFinal(t *testing.T) {
	if v := checks.JudgeFinal(finalSheet(), goodRecord()); v.Outcome != checks.Pass || len(v.Reasons) != 0 || len(v.Steps) != 5 {
		t.Fatalf("%s: %+v", v.Outcome, v.Reasons)
	}
	rail := func(values ...float64) func(*checks.Sheet, *checks.FinalRecord) {
		return func(_ *checks.Sheet, r *checks.FinalRecord) {
			r.Results[2].Readings = nil
			for i, v := range values {
				r.Results[2].Readings = append(r.Results[2].Readings, railReading(i+1, v))
			}
		}
	}
	record := func(change func(*checks.FinalRecord)) func(*checks.Sheet, *checks.FinalRecord) {
		return func(_ *checks.Sheet, r *checks.FinalRecord) { change(r) }
	}
	sheet := func(change func(*checks.Sheet)) func(*checks.Sheet, *checks.FinalRecord) {
		return func(s *checks.Sheet, _ *checks.FinalRecord) { change(s) }
	}
	again := func(n int) func(*checks.Sheet, *checks.FinalRecord) {
		return record(func(r *checks.FinalRecord) {
			for range n {
				r.Results = append(r.Results, r.Results[2])
			}
		})
	}
	due := time.Date(begin.Year(), begin.Month(), begin.Day(), 0, 0, 0, 0, time.UTC)
	for _, test := range []struct {
		name    string
		change  func(*checks.Sheet, *checks.FinalRecord)
		outcome checks.Outcome
		kinds   string
	}{
		{"on the acceptance limit", rail(5.24, 5.01), checks.Pass, ""},
		{"just inside the guard band", rail(5.2400001, 5.01), checks.Undecided, "figure-in-guard-band"},
		{"on the limit", rail(5.01, 5.25), checks.Undecided, "figure-in-guard-band"},
		{"outside by less than the guard band", rail(4.7401, 5.01), checks.Undecided, "figure-in-guard-band"},
		{"outside in one repeat", rail(5.01, 4.70), checks.Fail, "figure-outside held-back"},
		{"one repeat missing", rail(5.01), checks.Undecided, "not-measured held-back"},
		{"no reading", rail(), checks.Undecided, "not-measured not-measured held-back"},
		{"not a number", rail(5.01, math.NaN()), checks.Undecided, "not-measured held-back"},
		{"an infinity", rail(math.Inf(1), 5.01), checks.Undecided, "not-measured held-back"},
		{"no uncertainty", record(func(r *checks.FinalRecord) { r.Results[2].Readings[0].U, r.Results[2].Readings[1].U = 0, 0 }), checks.Undecided, "no-uncertainty held-back"},
		{"guard bands that leave nothing", record(func(r *checks.FinalRecord) { r.Results[2].Readings[0].U, r.Results[2].Readings[1].U = 0.2, 0.2 }), checks.Undecided, "not-decidable held-back"},
		{"simple, on the limit", func(s *checks.Sheet, r *checks.FinalRecord) {
			s.Final.Decision.Rule = checks.Simple
			rail(5.25, 5.01)(s, r)
		}, checks.Pass, ""},
		{"simple, beyond", func(s *checks.Sheet, r *checks.FinalRecord) {
			s.Final.Decision.Rule = checks.Simple
			rail(5.2500001, 5.01)(s, r)
		}, checks.Fail, "figure-outside held-back"},
		{"shared risk, sure enough", func(s *checks.Sheet, r *checks.FinalRecord) {
			s.Final.Decision = checks.FinalDecision{Rule: checks.SharedRisk, UncertaintyAtMost: 0.02} // U is 0.01 of 0.5
			rail(5.25, 5.01)(s, r)
		}, checks.Pass, ""},
		{"shared risk, not sure enough", sheet(func(s *checks.Sheet) {
			s.Final.Decision = checks.FinalDecision{Rule: checks.SharedRisk, UncertaintyAtMost: 0.0199}
		}), checks.Undecided, "uncertainty-too-large held-back"},
		{"a wider guard band", func(s *checks.Sheet, r *checks.FinalRecord) {
			s.Final.Decision = checks.FinalDecision{Rule: checks.GuardBanded, Ratio: 3}
			rail(5.225, 5.01)(s, r)
		}, checks.Undecided, "figure-in-guard-band held-back"},
		{"not settled", record(func(r *checks.FinalRecord) { r.Results[2].Settled = checks.SettledReport{Spread: 0.02} }), checks.Undecided, "not-settled held-back"},
		{"another test point", record(func(r *checks.FinalRecord) { r.Results[2].TestPoint = "composite" }), checks.Undecided, "not-measured held-back"},
		{"taken again once", again(1), checks.Pass, ""},
		{"taken again too often", again(2), checks.Undecided, "taken-too-often held-back"},
		{"answered yes", record(func(r *checks.FinalRecord) { r.Results[3].Answer = checks.Yes }), checks.Fail, "answered-no"},
		{"not answered", record(func(r *checks.FinalRecord) { r.Results[3].Answer = "" }), checks.Undecided, "not-answered"},
		{"waited too short", record(func(r *checks.FinalRecord) { r.Results[1].Waited-- }), checks.Undecided, "wait-cut-short held-back held-back"},
		{"not watched", record(func(r *checks.FinalRecord) { r.Results[4].Watched = false }), checks.Undecided, "not-watched"},
		{"skipped", record(func(r *checks.FinalRecord) { r.Results[3].Act, r.Results[3].Note = checks.Skipped, "no ears" }), checks.Undecided, "skipped"},
		{"could not be read", record(func(r *checks.FinalRecord) { r.Results[2].Act = checks.Unread }), checks.Undecided, "not-read held-back"},
		{"a step missing", record(func(r *checks.FinalRecord) { r.Results = r.Results[:4] }), checks.Undecided, "not-taken"},
		{"of another kind", record(func(r *checks.FinalRecord) { r.Results[3].Kind = checks.StepWait }), checks.Undecided, "not-taken"},
		{"under way", record(func(r *checks.FinalRecord) { r.End = time.Time{} }), checks.Undecided, "under-way"},
		{"given up", record(func(r *checks.FinalRecord) { r.GivenUp = "dropped" }), checks.Undecided, "given-up"},
		{"no final test", sheet(func(s *checks.Sheet) { s.Final.Steps = nil }), checks.Undecided, "no-final-test"},
		{"no soak", record(func(r *checks.FinalRecord) { r.Results[0].Soak = 0 }), checks.Undecided, "soak-missing"},
		{"a soak that is not known", record(func(r *checks.FinalRecord) { r.Soaks = nil }), checks.Undecided, "soak-missing"},
		{"somebody else's soak", record(func(r *checks.FinalRecord) { r.Soaks[0].Verdict.Unit = "B8-0152" }), checks.Undecided, "soak-missing"},
		{"a soak that runs", record(func(r *checks.FinalRecord) { r.Soaks[0].Ended = false }), checks.Undecided, "soak-missing"},
		{"a soak that failed", record(func(r *checks.FinalRecord) { r.Soaks[0].Verdict.Outcome = checks.Fail }), checks.Fail, "soak-failed"},
		{"a soak with a gap", record(func(r *checks.FinalRecord) {
			r.Soaks[0].Verdict.Outcome, r.Soaks[0].Verdict.Reasons = checks.Undecided, []checks.Reason{{Kind: checks.NoLength}}
		}), checks.Undecided, "soak-undecided"},
		{"a soak that was short", sheet(func(s *checks.Sheet) { s.Final.Steps[0].Soak.AtLeast = time.Hour + time.Microsecond }), checks.Undecided, "soak-too-short"},
		{"a soak of long ago", sheet(func(s *checks.Sheet) { s.Final.Steps[0].Soak.NotOlder = time.Hour }), checks.Undecided, "soak-too-old"},
		{"the sheet has changed since", record(func(r *checks.FinalRecord) { r.Soaks[0].SheetHash = "other" }), checks.Undecided, "soak-by-another-sheet"},
		{"calibrated to the day", record(func(r *checks.FinalRecord) { r.Instruments[0].CalibrationDue = due }), checks.Pass, ""},
		{"calibration overdue", record(func(r *checks.FinalRecord) { r.Instruments[0].CalibrationDue = due.AddDate(0, 0, -1) }), checks.Undecided, "calibration-overdue calibration-overdue held-back"},
		{"another's calibration overdue", record(func(r *checks.FinalRecord) {
			r.Instruments = append(r.Instruments, checks.FinalInstrument{Name: "scope", CalibrationDue: due.AddDate(0, 0, -1), Since: at(0)})
		}), checks.Pass, ""},
	} {
		s, r := finalSheet(), goodRecord()
		test.change(&s, &r)
		v := checks.JudgeFinal(s, r)
		got := kinds(v)
		// That what depends on a step is held back is tested for some; a borderline rail
		// holds the discharge back as well.
		if test.outcome != v.Outcome || got != test.kinds && strings.TrimSuffix(got, " held-back") != test.kinds {
			t.Errorf("%s: %s (%s), want %s (%s)", test.name, v.Outcome, got, test.outcome, test.kinds)
		}
	}
}

// TestFinalReasonSaysAll: figure, limit, uncertainty, how likely, and what to look
// for by the edge, then what the diagnosis says.
func TestFinalReasonSaysAll(t *testing.T) {
	r := goodRecord()
	r.Results[2].Readings[1].Value = 4.742
	r.Results[2].Findings = []checks.Finding{{Code: "sagging", Text: "It sags by 0.2 V.", Advice: "Measure ahead of the regulator."}}
	v := checks.JudgeFinal(finalSheet(), r)
	want := "rail: rail-5v dc-voltage stands in its guard band: 4.742 V, low limit 4.75 V, uncertainty 0.010 V, 5.5 % likely that it keeps to the limit"
	if got := v.Reasons[0]; got.Text != want || !slices.Equal(got.Causes, []string{"regulator worn", "a loose clip", "It sags by 0.2 V. Measure ahead of the regulator."}) {
		t.Errorf("%q\n%q\n%q", got.Text, want, got.Causes)
	}
}

// TestFinalOfPublishedExamples puts published figures through a final test: the
// examples of JCGM 106:2012, 7.3 and 7.4 (clauses from memory) for the probability,
// and a worked micrometer case of guard banding (limit ± 0.003, U 0.001; its +0.0025
// is ruled non-conforming where it was published, and undecided under the four-way
// statement of ILAC-G8:09/2019, 4.2.3).
func TestFinalOfPublishedExamples(t *testing.T) {
	judged := func(limit checks.Limit, y, u float64) checks.FinalFigure {
		s, r := finalSheet(), goodRecord()
		s.TestPoints[0].Checks[0].Limit = limit
		for i := range r.Results[2].Readings {
			r.Results[2].Readings[i].Value, r.Results[2].Readings[i].U = y, u
		}
		return checks.JudgeFinal(s, r).Steps[2].Figures[0]
	}
	for _, id := range []string{"upper_limit", "lower_limit", "two_sided"} {
		e := examples(t, "testdata/conformity.json")[id]
		f := judged(simple(e.in("TL", math.Inf(-1)), e.in("TU", math.Inf(1))), e.in("y", 0), e.in("u", 0))
		near(t, id, f.Probability, e.Expected["pc"], 0.005)
	}
	for _, row := range []struct {
		y     float64
		state checks.State
	}{{0.0017, checks.Within}, {0.0025, checks.Borderline}, {0.0041, checks.Outside}} {
		if f := judged(band(-0.003, 0.003, 1), row.y, 0.0005); f.State != row.state {
			t.Errorf("micrometer at %g: %s, want %s", row.y, f.State, row.state)
		}
	}
	near(t, "bench case", judged(simple(4.75, 5.25), 5.20, 0.02).Probability, 0.993790, 1e-6)
}

func TestFinalDue(t *testing.T) {
	names := func(r checks.FinalRecord) string {
		var all []string
		for _, step := range checks.FinalDue(finalSheet(), r) {
			all = append(all, string(step.Name))
		}
		return strings.Join(all, " ")
	}
	r := goodRecord()
	r.End = time.Time{}
	for _, test := range []struct {
		what, want string
		results    []checks.StepResult
	}{
		{"nothing", "soaked warm sound", nil},
		{"the wait", "soaked rail sound", r.Results[1:2]},
		{"all but the question", "sound", slices.Concat(r.Results[:3], r.Results[4:])},
		{"all", "", r.Results},
	} {
		now := r
		now.Results = test.results
		if got := names(now); got != test.want {
			t.Errorf("with %s there are %q to take, want %q", test.what, got, test.want)
		}
	}
	unread := goodRecord()
	unread.Results[2].Act = checks.Unread
	if got := names(unread); got != "rail" {
		t.Errorf("what could not be read is to be taken: %q", got)
	}
}

func TestFinalChanges(t *testing.T) {
	tighter := finalSheet()
	tighter.TestPoints[0].Checks[0].Limit = band(4.75, 5.0, 1)
	tighter.Final.Steps = tighter.Final.Steps[1:]
	tighter.Final.Steps[0].Name = "warmer"
	tighter.Final.Steps[1].After = nil
	before, after := checks.JudgeFinal(finalSheet(), goodRecord()), checks.JudgeFinal(tighter, goodRecord())
	got := strings.Join(checks.FinalChanges(before, after), "\n")
	for _, want := range []string{"verdict: pass becomes fail", "warmer: a new step, undecided", "rail: pass becomes fail", "new: rail: rail-5v dc-voltage is outside",
		"soaked: no longer a step, was pass", "warm: no longer a step, was pass"} {
		if !strings.Contains(got, want) {
			t.Errorf("no %q in\n%s", want, got)
		}
	}
	if same := checks.FinalChanges(before, before); len(same) > 0 {
		t.Errorf("of the same: %q", same)
	}
}

// TestFinalInLocalTime: what a final test says of its soak has the times of the clock
// that it is read by; the verdict that is kept does not change.
func TestFinalInLocalTime(t *testing.T) {
	record := goodRecord()
	gap := checks.Gap{From: at(-5000), To: at(-4000), Check: checks.CheckKey{TestPoint: "rail-5v", Measure: device.DCVoltage}}
	record.Soaks[0].Verdict.Outcome = checks.Undecided
	record.Soaks[0].Verdict.Reasons = []checks.Reason{{Kind: checks.LongGap, Check: gap.Check, Begin: at(-7200), Gap: gap, Length: 1000 * time.Second, Asked: time.Minute}}
	v := checks.JudgeFinal(finalSheet(), record)
	east := time.FixedZone("east", 3*3600+30*60)
	utc, local := at(-5000).UTC().Format("15:04:05"), at(-5000).In(east).Format("15:04:05")
	here := v.In(east, record.Soaks...)
	for _, row := range []struct {
		name         string
		texts        []checks.StepReason
		want, marked string
	}{
		{"kept", v.Reasons, utc, "(times in UTC)"}, {"shown", here.Reasons, local, ""}, {"shown at the step", here.Steps[0].Reasons, local, ""},
		{"a soak that is not there", v.In(east).Reasons, utc, "(times in UTC)"},
	} {
		if len(row.texts) != 1 || !strings.Contains(row.texts[0].Text, row.want) || strings.Contains(row.texts[0].Text, "UTC") != (row.marked != "") {
			t.Errorf("%s: %v, want %s %s", row.name, row.texts, row.want, row.marked)
		}
	}
	if here.Outcome != v.Outcome || here.Reasons[0].Kind != v.Reasons[0].Kind {
		t.Error("a clock changes the verdict")
	}
}
