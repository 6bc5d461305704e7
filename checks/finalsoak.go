package checks

import (
	"fmt"
	"time"
)

// judgeSoak judges a StepSoak by the soak that the result names.
func (j *stepJudge) judgeSoak() {
	soak, ok := j.record.soak(j.result.Soak)
	if !ok || soak.Verdict.Unit != j.record.Unit {
		j.add(SoakMissing, "the unit has no soak; begin one: soakline soak begin --unit %s", j.record.Unit)
		return
	}
	v := soak.Verdict
	j.out.Said = fmt.Sprintf("soak %d: %s, %s, evidence %s", soak.Soak, v.Outcome, Duration(v.End.Sub(v.Begin)), percent(v.Evidence))
	if !soak.Ended {
		j.add(SoakMissing, "soak %d has not ended", soak.Soak)
		return
	}
	if soak.SheetHash != j.record.SheetHash {
		j.add(SoakSheet, "the test sheet has changed since soak %d began (sha256 %.12s then, %.12s now); soak again by the sheet of today", soak.Soak, soak.SheetHash, j.record.SheetHash)
	}
	j.soakLength(soak)
	j.calibrations(soak.Instruments, v.End)
	switch v.Outcome {
	case Pass:
	case Fail:
		j.soakReasons(SoakFailed, soak)
	default:
		j.soakReasons(SoakUndecided, soak)
	}
}

// soakLength adds a reason where the soak was too short, ended too long ago, or
// ended after the step that relies on it.
func (j *stepJudge) soakLength(soak FinalSoak) {
	wanted := j.step.Soak.AtLeast
	if wanted == 0 {
		wanted = j.sheet.Soak.Duration
	}
	if length := soak.Verdict.End.Sub(soak.Verdict.Begin); length < wanted {
		j.add(SoakTooShort, "soak %d lasted %s, the sheet asks %s", soak.Soak, Duration(length), Duration(wanted))
	}
	ended := stampOf(j.result.End).time().Sub(soak.Verdict.End)
	if old := j.step.Soak.NotOlder; old > 0 && ended > old {
		j.add(SoakTooOld, "soak %d ended %s before, the sheet allows %s", soak.Soak, Duration(ended.Truncate(time.Second)), Duration(old))
	}
}

// soakReasons takes over why the soak does not pass; times are in UTC, so that the
// verdict is the same wherever it is given. In puts them into a person's.
func (j *stepJudge) soakReasons(kind StepReasonKind, soak FinalSoak) {
	for _, sentence := range soak.Verdict.Sentences(time.UTC) {
		r := j.add(kind, "%s", soakSentence(soak.Soak, sentence)+inUTC)
		r.Causes = j.causes("")
	}
	if len(soak.Verdict.Reasons) == 0 {
		j.add(kind, "%s", soakSentence(soak.Soak, string(soak.Verdict.Outcome)))
	}
}
