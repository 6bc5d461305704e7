package checks

import (
	"math"
	"strconv"
)

// String says the rule in words.
func (d FinalDecision) String() string {
	switch d.Rule {
	case Simple:
		return "simple: accepted up to the limit"
	case GuardBanded:
		return "guard-banded: accepted up to the limit less " + strconv.FormatFloat(d.Ratio, 'g', -1, 64) + " U (k = 2), undecided as far beyond"
	case SharedRisk:
		return "shared risk: accepted up to the limit where U (k = 2) is at most " + percent(d.UncertaintyAtMost) + " of its width"
	default:
		return "as each limit says"
	}
}

// limit is a check's limit with the guard band that the plan's decision rule gives. A
// limit that is simple by itself stays so under the guard-banded rule.
func (j *stepJudge) limit(l Limit) Limit {
	d := j.sheet.Final.Decision
	switch d.Rule {
	case Simple, SharedRisk:
		l.Guard = GuardBand{Rule: Simple}
	case GuardBanded:
		if l.Guard.Rule == Simple {
			break // it says so itself: what is counted has no uncertainty
		}
		l.Guard = GuardBand{Rule: GuardBanded, Ratio: d.Ratio, Width: l.Guard.Width}
	}
	return l
}

// decide adds why a figure does not pass by the rule. In the guard band it is
// undecided, on either side of the limit: the four-way statement of
// ILAC-G8:09/2019, 4.2.3, without a conditional pass.
func (j *stepJudge) decide(f FinalFigure) {
	if _, _, refused := f.Limit.classify(f.Figure, f.U); refused {
		return // certainty has said so
	}
	switch f.State {
	case Outside:
		j.stands(FigureOutside, "is outside", f)
	case Borderline:
		j.stands(FigureInGuard, "stands in its guard band", f)
	}
}

// stands adds a reason with figure, limit, uncertainty and how likely it is to keep
// to the limit.
func (j *stepJudge) stands(kind StepReasonKind, what string, f FinalFigure) {
	unit := f.Check.Measure.Unit()
	sure := "uncertainty not given"
	if given(f.U) {
		sure = "uncertainty " + uncertaintyText(f.Figure, f.U, unit) + ", " + probabilityText(f.Probability) + " that it keeps to the limit"
	}
	r := j.add(kind, "%s %s: %s, %s limit %s, %s", f.Check, what, plainFigure(f.Figure, f.U, unit), f.Edge,
		Figure(f.Limit.At(f.Edge), 0, unit), sure)
	r.Causes = j.causes(f.Edge)
}

// certainty adds a reason where the rule asks for an uncertainty that nobody gave, or
// that is too large to decide anything. Each repeat is asked, each answer told once.
func (j *stepJudge) certainty(f FinalFigure) {
	needed := f.Limit.Guard.Rule == GuardBanded && f.Limit.Guard.Width == 0
	shared := j.sheet.Final.Decision.Rule == SharedRisk
	_, _, refused := f.Limit.classify(f.Figure, f.U)
	switch {
	case refused:
		j.addOnce(NotDecidable, "%s can't be decided: %s", f.Check, ErrNothingAccepted)
	case (needed || shared) && !given(f.U):
		r := j.addOnce(NoUncertainty, "%s has no uncertainty, and the decision rule needs one", f.Check)
		r.Causes = []string{"Give the accuracy of " + orElse(f.Instrument, "the instrument") + " in bench.yaml, or another decision rule in the sheet."}
	case shared:
		width, most := f.Limit.scale(), j.sheet.Final.Decision.UncertaintyAtMost
		if share := CoverageFactor * f.U / width; !(share <= most) {
			j.addOnce(NotSure, "%s has an uncertainty of %s, %s of its limit's width; shared risk allows %s", f.Check,
				uncertaintyText(f.Figure, f.U, f.Check.Measure.Unit()), percent(math.Round(share*1000)/1000), percent(most))
		}
	}
}

// scale is the width of a limit; of a one-sided one twice the way from its nominal
// figure, or without one the limit itself.
func (l Limit) scale() float64 {
	low, high := !math.IsInf(l.Low, 0), !math.IsInf(l.High, 0)
	switch {
	case low && high:
		return l.High - l.Low
	case high && l.Nominal < l.High:
		return 2 * (l.High - l.Nominal)
	case low && l.Nominal > l.Low:
		return 2 * (l.Nominal - l.Low)
	case high:
		return math.Abs(l.High)
	default:
		return math.Abs(l.Low)
	}
}

// probabilityText writes a chance without ever calling it certain.
func probabilityText(p float64) string {
	switch {
	case math.IsNaN(p):
		return NotKnown
	case p < 0.001:
		return "less than 0.1 % likely"
	case p > 0.999:
		return "more than 99.9 % likely"
	default:
		return strconv.FormatFloat(100*p, 'f', 1, 64) + " % likely"
	}
}

func plainCount(n int) string { return strconv.Itoa(n) }
