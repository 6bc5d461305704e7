package book

import (
	"bytes"
	"flag"
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"

	"soakline/checks"
	"soakline/device"
)

// drawnFinal is a final test as chance made it.
type drawnFinal struct {
	sheet  checks.Sheet
	record checks.FinalRecord
}

// drawFinal makes a sheet of up to five steps and a sequence of what can happen to
// them, most of it as it should be, else hardly any would pass.
func drawFinal(t *rapid.T) drawnFinal {
	limit := checks.Limit{Low: 4.75, High: 5.25, Nominal: math.NaN(), Guard: checks.GuardBand{Rule: checks.GuardBanded, Ratio: 1}}
	d := drawnFinal{sheet: checks.Sheet{Name: "drawn", Hash: "now", Soak: checks.SoakPlan{Duration: time.Hour},
		TestPoints: []checks.TestPoint{{Name: "rail-5v", Discharge: &checks.DischargePlan{BelowVolts: 2}, Checks: []checks.Check{{Measure: device.DCVoltage, Limit: limit}}}},
		Final:      checks.FinalPlan{AgainAtMost: rapid.IntRange(0, 2).Draw(t, "again"), Decision: drawDecision(t)}}}
	names := []checks.StepName{"a", "b", "c", "d", "e"}
	for i := range rapid.IntRange(0, len(names)).Draw(t, "steps") {
		step := checks.FinalStep{Name: names[i], Kind: rapid.SampledFrom(checks.StepKinds()).Draw(t, "kind"), TestPoint: "rail-5v", Wait: time.Second,
			PassesWith: checks.Yes, Repeats: rapid.IntRange(1, 2).Draw(t, "repeats")}
		if i > 0 && rapid.Bool().Draw(t, "after") {
			step.After = names[i-1 : i]
		}
		if rapid.Bool().Draw(t, "settling") {
			step.Settling = checks.StepSettling{Measure: device.DCVoltage, Spread: 0.01, For: time.Second, Within: time.Minute}
		}
		d.sheet.Final.Steps = append(d.sheet.Final.Steps, step)
	}
	d.record = drawRecord(t, d.sheet)
	return d
}

func drawDecision(t *rapid.T) checks.FinalDecision {
	return rapid.SampledFrom([]checks.FinalDecision{{}, {Rule: checks.Simple}, {Rule: checks.GuardBanded, Ratio: 1}, {Rule: checks.SharedRisk, UncertaintyAtMost: 0.1}}).Draw(t, "rule")
}

// rarely is true now and then.
func rarely(t *rapid.T, what string) bool { return rapid.IntRange(0, 19).Draw(t, what) == 0 }

func drawRecord(t *rapid.T, sheet checks.Sheet) checks.FinalRecord {
	r := checks.FinalRecord{Unit: "B8-0147", Begin: begin, End: begin.Add(time.Hour), SheetHash: "now",
		Instruments: []checks.FinalInstrument{{Name: "meter", Since: begin}}}
	for id := int64(1); id <= 2; id++ {
		soak := checks.FinalSoak{Soak: id, SheetHash: "now", Ended: !rarely(t, "runs"), Instruments: []string{"meter"},
			Verdict: checks.Verdict{Unit: "B8-0147", Outcome: rapid.SampledFrom([]checks.Outcome{checks.Pass, checks.Pass, checks.Fail, checks.Undecided}).Draw(t, "soak"), Begin: begin.Add(-2 * time.Hour), End: begin.Add(-time.Hour)}}
		if rarely(t, "other sheet") {
			soak.SheetHash = "then"
		}
		r.Soaks = append(r.Soaks, soak)
	}
	if rarely(t, "overdue") {
		r.Instruments[0].CalibrationDue = begin.Truncate(24*time.Hour).AddDate(0, 0, -1)
	}
	if rarely(t, "under way") {
		r.End = time.Time{}
	}
	if rarely(t, "given up") {
		r.GivenUp = "dropped"
	}
	for _, step := range sheet.Final.Steps {
		for n := rapid.SampledFrom([]int{1, 1, 1, 1, 1, 1, 0, 2, 3}).Draw(t, "times"); n > 0; n-- {
			r.Results = append(r.Results, drawResult(t, step))
		}
	}
	if len(r.Results) > 1 && rarely(t, "order") {
		r.Results = rapid.Permutation(r.Results).Draw(t, "shuffled")
	}
	return r
}

func drawResult(t *rapid.T, step checks.FinalStep) checks.StepResult {
	r := checks.StepResult{Step: step.Name, Kind: step.Kind, Begin: begin, End: begin.Add(time.Minute), TestPoint: "rail-5v",
		Act:    rapid.SampledFrom([]checks.StepAct{checks.Taken, checks.Taken, checks.Taken, checks.Taken, checks.Taken, checks.Skipped, checks.Unread}).Draw(t, "act"),
		Answer: rapid.SampledFrom([]checks.Answer{checks.Yes, checks.Yes, checks.Yes, checks.No, ""}).Draw(t, "answer"),
		Waited: rapid.SampledFrom([]time.Duration{time.Second, time.Minute, time.Second - 1}).Draw(t, "waited"), Watched: !rarely(t, "unwatched"), Volts: 1,
		Soak: rapid.SampledFrom([]int64{1, 1, 2, 0, 9}).Draw(t, "soak"), Settled: checks.SettledReport{Settled: !rarely(t, "moves")}}
	if rarely(t, "kind of another") {
		r.Kind = checks.StepWait
	}
	for repeat := 1; repeat <= step.Repeats; repeat++ {
		if rarely(t, "lost") {
			continue
		}
		value := rapid.SampledFrom([]float64{5, 5, 5, 5.1, 4.9, 5.22, 5.23, 5.26, 5.3, 4.7, math.NaN(), math.Inf(1)}).Draw(t, "value")
		u := rapid.SampledFrom([]float64{0.01, 0.01, 0.01, 0, math.NaN(), 0.03, 0.2}).Draw(t, "u")
		r.Readings = append(r.Readings, checks.StepReading{Repeat: repeat, TestPoint: "rail-5v", Measure: device.DCVoltage, Instrument: "meter", At: begin, Value: value, U: u})
	}
	return r
}

// earned tells a second time, and in another way than the judge, whether a final test
// has earned its pass.
func (d drawnFinal) earned() bool {
	if len(d.sheet.Final.Steps) == 0 || d.record.End.IsZero() || d.record.GivenUp != "" {
		return false
	}
	latest, taken := map[checks.StepName]checks.StepResult{}, map[checks.StepName]int{}
	for _, r := range d.record.Results {
		latest[r.Step] = r
		if r.Act == checks.Taken {
			taken[r.Step]++
		}
	}
	overdue := !d.record.Instruments[0].CalibrationDue.IsZero()
	for _, step := range d.sheet.Final.Steps {
		r, there := latest[step.Name]
		if !there || r.Act != checks.Taken || r.Kind != step.Kind || taken[step.Name] > 1+d.sheet.Final.AgainAtMost || !d.stepEarned(step, r, overdue) {
			return false
		}
	}
	return true
}

func (d drawnFinal) stepEarned(step checks.FinalStep, r checks.StepResult, overdue bool) bool {
	switch step.Kind {
	case checks.StepQuestion:
		return r.Answer == checks.Yes
	case checks.StepWait:
		return r.Waited >= time.Second
	case checks.StepDischarge:
		return r.Watched && !(overdue && len(r.Readings) > 0)
	case checks.StepSoak:
		if r.Soak != 1 && r.Soak != 2 {
			return false
		}
		soak := d.record.Soaks[r.Soak-1]
		return soak.Ended && soak.SheetHash == "now" && soak.Verdict.Outcome == checks.Pass && !overdue
	}
	if overdue || step.Settling.Asked() && !r.Settled.Settled || len(r.Readings) != step.Repeats {
		return false
	}
	rule := d.sheet.Final.Decision.Rule
	for _, reading := range r.Readings {
		u, margin := reading.U, 0.0
		if rule == "" || rule == checks.GuardBanded {
			margin = 2 * u
			if !(u > 0) {
				return false
			}
		}
		if rule == checks.SharedRisk && !(u > 0 && 2*u <= 0.1*0.5) {
			return false
		}
		if !(reading.Value-4.75 >= margin-1e-12 && 5.25-reading.Value >= margin-1e-12) {
			return false
		}
	}
	return true
}

// throughTheBook is the record with every result written as the book keeps it and
// read again.
func (d drawnFinal) throughTheBook(t *rapid.T) checks.FinalRecord {
	again := d.record
	again.Results = nil
	for _, result := range d.record.Results {
		text, err := encodePlain(result)
		if err != nil {
			t.Fatal(err)
		}
		var read checks.StepResult
		if err := decodePlain(text, &read); err != nil {
			t.Fatal(err)
		}
		again.Results = append(again.Results, read)
	}
	return again
}

// TestFinalIsNeverPassedUnearned draws 10,000 final tests: none passes with evidence
// missing, each that has earned it passes, and what the book gives back is judged the
// same to the last bit.
func TestFinalIsNeverPassedUnearned(t *testing.T) {
	set(t, "rapid.checks", "10000")
	passes := 0
	rapid.Check(t, func(t *rapid.T) {
		d := drawFinal(t)
		live := checks.JudgeFinal(d.sheet, d.record)
		if passed := live.Outcome == checks.Pass; passed != d.earned() {
			t.Fatalf("%s, and it has earned a pass: %v\n%+v", live.Outcome, d.earned(), live.Reasons)
		} else if passed {
			passes++
		}
		first, err := EncodeFinalVerdict(live)
		if err != nil {
			t.Fatal(err)
		}
		second, err := EncodeFinalVerdict(checks.JudgeFinal(d.sheet, d.throughTheBook(t)))
		if err != nil || !bytes.Equal(first, second) {
			t.Fatalf("judged from the book it differs (%v):\n%s\n%s", err, first, second)
		}
	})
	if passes < 100 {
		t.Errorf("only %d of 10,000 passed: the property says little", passes)
	}
	t.Logf("%d of 10,000 passed", passes)
}

// set sets a flag of the test for as long as it runs.
func set(t *testing.T, name, value string) {
	t.Helper()
	before := flag.Lookup(name).Value.String()
	if err := flag.Set(name, value); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := flag.Set(name, before); err != nil {
			t.Error(err)
		}
	})
}
