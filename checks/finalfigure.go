package checks

import (
	"math"

	"soakline/device"
)

// dcVolts is the unit of a watched voltage.
var dcVolts = device.DCVoltage.Unit()

// judgeFigures judges a StepMeasure: every check of it in every repeat.
func (j *stepJudge) judgeFigures() {
	if j.result.TestPoint != j.step.TestPoint {
		j.add(NotMeasured, "%s was not measured, but %s", j.step.TestPoint, j.result.TestPoint)
		return
	}
	if s := j.step.Settling; s.Asked() && !j.result.Settled.Settled {
		unit := s.Measure.Unit()
		r := j.add(NotSettled, "%s had not settled: within %s it moved by %s, the sheet allows %s for %s", s.Measure,
			Duration(s.Within), Figure(j.result.Settled.Spread, 0, unit), Figure(s.Spread, 0, unit), Duration(s.For))
		r.Causes = j.causes("")
	}
	j.calibrations(j.instrumentsRead(), j.result.End)
	checks := j.sheet.FinalChecks(j.step)
	if len(checks) == 0 {
		j.add(NotMeasured, "the sheet has nothing to hold %s against", j.step.TestPoint)
	}
	for _, check := range checks {
		j.judgeFigure(check)
	}
}

// judgeFigure judges one check; the worst of its repeats stands for all of them.
func (j *stepJudge) judgeFigure(check Check) {
	key := CheckKey{TestPoint: j.step.TestPoint, Measure: check.Measure}
	worst := FinalFigure{Check: key, Limit: j.limit(check.Limit), Value: math.NaN(), Figure: math.NaN(), U: math.NaN(),
		State: Silent, Probability: math.NaN(), Low: math.NaN(), High: math.NaN()}
	before := len(j.out.Reasons)
	for repeat := 1; repeat <= max(1, j.step.Repeats); repeat++ {
		f, ok := j.figure(worst, check, repeat)
		if !ok {
			j.add(NotMeasured, "%s was not measured%s", key, ofRepeats(repeat, j.step.Repeats))
			continue
		}
		j.certainty(f)
		f.Repeats, f.Low, f.High = worst.Repeats+1, least(worst.Low, f.Figure), -least(-worst.High, -f.Figure)
		if worst.Repeats == 0 || worse(f, worst) {
			worst = f
		} else {
			worst.Repeats, worst.Low, worst.High = f.Repeats, f.Low, f.High
		}
	}
	if worst.Repeats > 0 {
		j.decide(worst)
	}
	worst.Outcome = worstOf(j.out.Reasons[before:])
	j.out.Figures = append(j.out.Figures, worst)
}

// ofRepeats says which of several repeats is meant.
func ofRepeats(n, of int) string {
	if of <= 1 {
		return ""
	}
	return " in repeat " + plainCount(n) + " of " + plainCount(of)
}

// least is the smaller of two figures, the second where the first is not known.
func least(a, b float64) float64 {
	if math.IsNaN(a) || b < a {
		return b
	}
	return a
}

// figure takes the reading of a repeat, less its reference; ok is false where one of
// the two is not there.
func (j *stepJudge) figure(f FinalFigure, check Check, repeat int) (FinalFigure, bool) {
	reading, ok := readingOf(j.result, f.Check, repeat)
	if !ok {
		return f, false
	}
	f.Instrument, f.At, f.Value = reading.Instrument, stampOf(reading.At).time(), reading.Value
	f.Figure, f.U = reading.Value, known(reading.U)
	if key, compared := check.Against.Key(check.Measure); compared {
		reference, ok := j.reference(key, repeat)
		if !ok {
			return f, false
		}
		// Taken as independent: that errs on the cautious side where one instrument
		// read both.
		f.Figure, f.U = f.Figure-reference.Value, rootSumSquares(f.U, known(reference.U))
	}
	if math.IsInf(f.Figure, 0) || math.IsNaN(f.Figure) {
		return f, false
	}
	f.State, f.Edge = f.Limit.Classify(f.Figure, f.U)
	f.Probability = math.NaN()
	if f.U > 0 {
		// Rounded, so that processors which round its last bits otherwise agree.
		f.Probability = math.Round(1e6*ConformanceProbability(f.Limit, f.Figure, f.U)) / 1e6
	}
	return f, true
}

// known is an uncertainty, or NaN where nobody gave one.
func known(u float64) float64 {
	if given(u) {
		return u
	}
	return math.NaN()
}

// readingOf is the reading of a check in a repeat.
func readingOf(result StepResult, key CheckKey, repeat int) (StepReading, bool) {
	for _, r := range result.Readings {
		if r.Repeat == repeat && r.TestPoint == key.TestPoint && r.Measure == key.Measure {
			return r, true
		}
	}
	return StepReading{}, false
}

// reference is what a reading is compared with: of the same repeat of this step, or
// of the first repeat of the latest result of another that was taken.
func (j *stepJudge) reference(key CheckKey, repeat int) (StepReading, bool) {
	if r, ok := readingOf(j.result, key, repeat); ok {
		return r, true
	}
	for _, step := range j.sheet.Final.Steps {
		result, _, found := j.record.latest(step.Name)
		if !found || result.Act != Taken || step.TestPoint != key.TestPoint {
			continue
		}
		if r, ok := readingOf(result, key, 1); ok {
			return r, true
		}
	}
	return StepReading{}, false
}

// badness ranks states.
var badness = map[State]int{Within: 0, Borderline: 1, Outside: 2, Silent: 3}

// worse tells whether f stands worse than another figure of the same check.
func worse(f, than FinalFigure) bool {
	if badness[f.State] != badness[than.State] {
		return badness[f.State] > badness[than.State]
	}
	return f.Limit.beyond(f.Edge, f.Figure) > than.Limit.beyond(than.Edge, than.Figure)
}
