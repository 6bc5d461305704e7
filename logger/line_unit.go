package logger

import (
	"context"
	"time"

	"soakline/checks"
	"soakline/logger/book"
)

// unitHistory is the judged tests of a unit, the oldest first.
type unitHistory struct {
	unit    checks.UnitID
	console checks.ConsoleName
	tests   []unitTest
}

// unitTest is a soak or a final test with its latest verdict.
type unitTest struct {
	begin, given time.Time
	outcome      checks.Outcome
	soak         *book.Soak
	verdict      checks.Verdict
	final        *book.Final
	finalVerdict checks.FinalVerdict
}

// sheet is the sheet's copy that was kept with the test.
func (t unitTest) sheet() book.SheetCopy {
	if t.final != nil {
		return t.final.Sheet
	}
	return t.soak.Sheet
}

func (h unitHistory) first() (unitTest, bool) {
	if len(h.tests) == 0 {
		return unitTest{}, false
	}
	return h.tests[0], true
}

// firstTime is the worse of the first verdict on a soak and the first on a final
// test; a pass only if what there is of both is one.
func (h unitHistory) firstTime() checks.Outcome {
	outcome, soaked, tested := checks.Pass, false, false
	for _, test := range h.tests {
		if test.soak != nil && soaked || test.final != nil && tested {
			continue
		}
		soaked, tested = soaked || test.soak != nil, tested || test.final != nil
		switch {
		case test.outcome == checks.Fail:
			outcome = checks.Fail
		case test.outcome != checks.Pass && outcome == checks.Pass:
			outcome = checks.Undecided
		}
	}
	return outcome
}

// returns are the tests in the time that a unit came back for: after it had passed
// its final test, or, where it never had one, after it had passed a soak.
func (h unitHistory) returns(within func(time.Time) bool) []Return {
	finals := false
	for _, test := range h.tests {
		finals = finals || test.final != nil
	}
	var all []Return
	var passed time.Time
	for _, test := range h.tests {
		if !passed.IsZero() && test.begin.After(passed) {
			if within(test.begin) {
				all = append(all, Return{Unit: h.unit, Console: h.console, Passed: passed, Again: test.begin, Outcome: test.outcome})
			}
			passed = time.Time{} // until it has passed again
		}
		if test.outcome == checks.Pass && (test.final != nil || !finals) {
			passed = test.given
		}
	}
	return all
}

// failed are the checks and steps that failed in the time.
func (h unitHistory) failed(within func(time.Time) bool) map[string]bool {
	names := map[string]bool{}
	for _, test := range h.tests {
		if test.outcome != checks.Fail || !within(test.given) {
			continue
		}
		for _, result := range test.verdict.Checks {
			if result.Outcome == checks.Fail {
				names[result.Check.String()] = true
			}
		}
		for _, step := range test.finalVerdict.Steps {
			if step.Outcome == checks.Fail && step.Kind != checks.StepSoak { // a soak has been counted itself
				failedStep(step, names)
			}
		}
	}
	return names
}

// failedStep names the figures of a step that failed, or the step if it has none.
func failedStep(step checks.StepVerdict, names map[string]bool) {
	found := false
	for _, f := range step.Figures {
		if f.Outcome == checks.Fail {
			names[f.Check.String()] = true
			found = true
		}
	}
	if !found {
		names["step "+string(step.Step)] = true
	}
}

// diagnoses are the codes that the records of failing tests have given.
func (h unitHistory) diagnoses(ctx context.Context, from *book.Book, within func(time.Time) bool, parse func(string, []byte) (checks.Sheet, error)) (map[string]bool, error) {
	codes := map[string]bool{}
	note := func(findings []checks.Finding) {
		for _, f := range checks.Shown(findings) {
			if f.State != checks.Within {
				codes[string(f.Code)] = true
			}
		}
	}
	for _, test := range h.tests {
		switch {
		case test.outcome != checks.Fail || !within(test.given):
		case test.final != nil:
			for _, result := range test.final.Results {
				note(result.Findings)
			}
		default:
			sheet, err := parse(test.soak.Sheet.Name, test.soak.Sheet.Text)
			if err != nil {
				return nil, err
			}
			findings, err := soakFindings(ctx, from, sheet, test.soak.ID)
			if err != nil {
				return nil, err
			}
			note(findings)
		}
	}
	return codes, nil
}

// soakFindings is what the last record that a soak kept of each test point says: a
// soak keeps its records, not what they said.
func soakFindings(ctx context.Context, from *book.Book, sheet checks.Sheet, soak book.SoakID) ([]checks.Finding, error) {
	kept, err := from.SoakCaptures(ctx, soak)
	if err != nil {
		return nil, err
	}
	last := map[checks.TestPointName]book.CaptureID{}
	for _, record := range kept {
		last[record.TestPoint] = record.ID
	}
	var all []checks.Finding
	for _, point := range sheet.TestPoints {
		id, ok := last[point.Name]
		if !ok {
			continue
		}
		record, err := from.Capture(ctx, id)
		if err != nil {
			return nil, err
		}
		reduced, err := reduce(record, point, sheet, besideOf(point))
		if err != nil {
			continue // a record of nothing has nothing to say
		}
		all = append(all, reduced.findings...)
	}
	return all, nil
}
