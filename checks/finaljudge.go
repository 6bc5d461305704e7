package checks

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"
)

// JudgeFinal gives the verdict of a sheet on a final test. It is a pure function of
// both: given again years later it is the same, bit for bit. A pass needs every step
// of the sheet to have a result that earns it, and the test to have ended.
func JudgeFinal(sheet Sheet, record FinalRecord) FinalVerdict {
	v := FinalVerdict{Unit: record.Unit, SheetName: sheet.Name, SheetHash: sheet.Hash, Decision: sheet.Final.Decision,
		Begin: stampOf(record.Begin).time()}
	if !record.End.IsZero() {
		v.End = stampOf(record.End).time()
	}
	passed := map[StepName]bool{}
	for _, step := range sheet.Final.Steps {
		j := stepJudge{sheet: sheet, record: record, step: step, passed: passed}
		result := j.judge()
		passed[step.Name] = result.Outcome == Pass
		v.Steps = append(v.Steps, result)
		v.Reasons = append(v.Reasons, result.Reasons...)
	}
	v.Reasons = append(v.Reasons, wholeFinal(sheet, record)...)
	slices.SortStableFunc(v.Reasons, func(a, b StepReason) int { return cmp.Compare(a.Kind.rank(), b.Kind.rank()) })
	v.Outcome = worstOf(v.Reasons)
	return v
}

// wholeFinal are the reasons that concern no single step.
func wholeFinal(sheet Sheet, record FinalRecord) []StepReason {
	var all []StepReason
	if len(sheet.Final.Steps) == 0 {
		all = append(all, StepReason{Kind: NoFinalTest, Text: fmt.Sprintf("sheet %s has no final test", sheet.Name)})
	}
	if record.GivenUp != "" {
		all = append(all, StepReason{Kind: TestGivenUp, Text: "the test was given up: " + record.GivenUp})
	}
	if record.End.IsZero() {
		all = append(all, StepReason{Kind: TestUnderWay, Text: "the test has not ended"})
	}
	return all
}

// FinalDue returns the steps that can be taken next, in order: those without a
// result, or which could not be read, whose steps before have passed. Where there is none the test can end: what
// is left is held back.
func FinalDue(sheet Sheet, record FinalRecord) []FinalStep {
	var due []FinalStep
	passed := map[StepName]bool{}
	for i, v := range JudgeFinal(sheet, record).Steps {
		step := sheet.Final.Steps[i]
		passed[v.Step] = v.Outcome == Pass
		waits := slices.ContainsFunc(step.After, func(before StepName) bool { return !passed[before] })
		if (v.Act == "" || v.Act == Unread) && !waits {
			due = append(due, step)
		}
	}
	return due
}

// stepJudge judges one step.
type stepJudge struct {
	sheet  Sheet
	record FinalRecord
	step   FinalStep
	passed map[StepName]bool
	result StepResult
	out    StepVerdict
}

func (j *stepJudge) judge() StepVerdict {
	result, taken, found := j.record.latest(j.step.Name)
	j.out = StepVerdict{Step: j.step.Name, Kind: j.step.Kind, Taken: taken}
	if !found || result.Kind != j.step.Kind {
		j.notTaken()
	} else {
		j.result = result
		j.out.Act, j.out.At = result.Act, stampOf(result.End).time()
		j.judgeResult()
	}
	j.out.Outcome = worstOf(j.out.Reasons)
	return j.out
}

// notTaken tells why nothing was done.
func (j *stepJudge) notTaken() {
	if before := j.heldBackBy(); len(before) > 0 {
		j.add(HeldBack, "not taken, because %s did not pass", strings.Join(before, " and "))
		return
	}
	j.add(NotTaken, "not taken yet")
}

// heldBackBy are the steps before that have a result and no pass, or are held back
// themselves.
func (j *stepJudge) heldBackBy() []string {
	var all []string
	for _, name := range j.step.After {
		if j.passed[name] {
			continue
		}
		if _, _, found := j.record.latest(name); found || j.chainHeldBack(name) {
			all = append(all, string(name))
		}
	}
	return all
}

// chainHeldBack tells whether a step without a result will never have one unless
// another is taken again.
func (j *stepJudge) chainHeldBack(name StepName) bool {
	step, ok := j.sheet.Final.Step(name)
	if !ok {
		return true
	}
	other := stepJudge{sheet: j.sheet, record: j.record, step: step, passed: j.passed}
	return len(other.heldBackBy()) > 0
}

func (j *stepJudge) judgeResult() {
	switch j.result.Act {
	case Skipped:
		j.add(StepSkipped, "skipped: %s", orElse(j.result.Note, "no reason given"))
		return
	case Taken:
	default:
		j.add(NotRead, "could not be read: %s", orElse(j.result.Trouble, "no reason given"))
		return
	}
	if most := 1 + j.sheet.Final.AgainAtMost; j.out.Taken > most {
		j.add(TakenTooOften, "taken %d times, the sheet allows %d", j.out.Taken, most)
	}
	for _, name := range j.step.After {
		if !j.passed[name] {
			j.add(HeldBack, "taken, though %s did not pass", name)
		}
	}
	switch j.step.Kind {
	case StepMeasure:
		j.judgeFigures()
	case StepSoak:
		j.judgeSoak()
	case StepDischarge:
		j.judgeDischarge()
	case StepQuestion:
		j.judgeAnswer()
	case StepWait:
		j.out.Said = "waited " + Duration(j.result.Waited)
		if j.result.Waited < j.step.Wait {
			j.add(WaitCutShort, "waited %s of %s", Duration(j.result.Waited), Duration(j.step.Wait))
		}
	default:
		j.add(NotTaken, "this program does not know steps of kind %q", j.step.Kind)
	}
}

func (j *stepJudge) judgeAnswer() {
	j.out.Said = orElse(string(j.result.Answer), "not answered")
	if j.result.Note != "" {
		j.out.Said += ": " + j.result.Note
	}
	said := ""
	if j.result.Note != "" {
		said = " (" + j.result.Note + ")"
	}
	switch j.result.Answer {
	case j.step.PassesWith:
	case Yes, No:
		r := j.add(AnsweredNo, "%s Answered %s%s", j.step.Question, j.result.Answer, said)
		r.Causes = slices.Clone(j.step.Causes)
	default:
		j.add(NotAnswered, "%s Not answered", j.step.Question)
	}
}

func (j *stepJudge) judgeDischarge() {
	point, _ := j.sheet.testPoint(j.step.TestPoint)
	if j.result.TestPoint != j.step.TestPoint || point.Discharge == nil {
		j.add(NotWatched, "the voltage at %s was not watched", j.step.TestPoint)
		return
	}
	j.calibrations(j.instrumentsRead(), j.result.End)
	below := Figure(point.Discharge.BelowVolts, 0, dcVolts)
	j.out.Said = fmt.Sprintf("latest reading %s", Figure(j.result.Volts, 0, dcVolts))
	if !j.result.Watched {
		r := j.add(NotWatched, "%s was not watched below %s for %s; latest reading %s", j.step.TestPoint, below,
			Duration(point.Discharge.WatchFor), Figure(j.result.Volts, 0, dcVolts))
		r.Causes = j.causes("")
	}
}

// calibrations adds a reason for every instrument whose calibration date had gone by.
func (j *stepJudge) calibrations(names []string, at time.Time) {
	for _, name := range names {
		i, known := j.record.instrumentAt(name, at)
		if known && i.OverdueAt(at) {
			j.add(CalibrationGone, "calibration of %s (%s) was due on %s", name, orElse(i.Identity, "identity not known"), i.CalibrationDue.Format(time.DateOnly))
		}
	}
}

// instrumentsRead are the instruments of the result's readings, each once.
func (j *stepJudge) instrumentsRead() []string {
	var names []string
	for _, r := range j.result.Readings {
		if !slices.Contains(names, r.Instrument) {
			names = append(names, r.Instrument)
		}
	}
	return names
}

// add enters a reason; the sentence begins with the step's name.
func (j *stepJudge) add(kind StepReasonKind, format string, args ...any) *StepReason {
	j.out.Reasons = append(j.out.Reasons, StepReason{Kind: kind, Step: j.step.Name, Text: string(j.step.Name) + ": " + fmt.Sprintf(format, args...)})
	return &j.out.Reasons[len(j.out.Reasons)-1]
}

// addOnce is add for what several repeats may say; with figures that differ each says
// its own.
func (j *stepJudge) addOnce(kind StepReasonKind, format string, args ...any) *StepReason {
	text := string(j.step.Name) + ": " + fmt.Sprintf(format, args...)
	for i, r := range j.out.Reasons {
		if r.Kind == kind && r.Text == text {
			return &j.out.Reasons[i]
		}
	}
	return j.add(kind, format, args...)
}

// causes are what to look for: the sheet's for an edge and for any, then what the
// records' diagnosis said.
func (j *stepJudge) causes(edge Edge) []string {
	var all []string
	switch edge {
	case LowEdge:
		all = append(all, j.step.CausesLow...)
	case HighEdge:
		all = append(all, j.step.CausesHigh...)
	}
	all = append(all, j.step.Causes...)
	for _, f := range Shown(j.result.Findings) {
		all = append(all, strings.TrimSpace(f.Text+" "+f.Advice))
	}
	return all
}
