package checks

import (
	"time"
)

// FinalVerdict is what a sheet says of a final test.
type FinalVerdict struct {
	Outcome Outcome
	Unit    UnitID
	// SheetName and SheetHash name the sheet that was applied.
	SheetName, SheetHash string
	// Begin and End are the time it took, in UTC; End is zero while it is under way.
	Begin, End time.Time
	Decision   FinalDecision
	// Steps are in the order of the sheet.
	Steps []StepVerdict
	// Reasons are what decided, the most important first; empty for a pass.
	Reasons []StepReason
}

// StepVerdict is one step's part in a verdict.
type StepVerdict struct {
	Step    StepName
	Kind    StepKind
	Outcome Outcome
	// Act is empty where nothing was done yet.
	Act StepAct
	// Taken is how many times it was taken.
	Taken int
	// At is when its latest result was complete.
	At time.Time
	// Figures are the worst of all repeats, in the order of the sheet's checks.
	Figures []FinalFigure
	// Said is what a step without figures found, in words.
	Said    string
	Reasons []StepReason
}

// FinalFigure is a figure and how it stands to its limit. What is not known is NaN.
type FinalFigure struct {
	Check      CheckKey
	Instrument string
	At         time.Time
	// Value is the reading, Figure what the limit applies to (the reading less its
	// reference), and U one standard uncertainty of Figure.
	Value, Figure, U float64
	// Limit has the guard band that the decision rule gives it.
	Limit Limit
	State State
	Edge  Edge
	// Probability is the chance that it truly keeps to the limit (JCGM 106:2012, 7);
	// NaN where no uncertainty is known.
	Probability float64
	// Repeats is how many there were, and Low and High where they lay.
	Repeats   int
	Low, High float64
	Outcome   Outcome
}

// Text prints the figure as every screen does.
func (f FinalFigure) Text() string { return Figure(f.Figure, f.U, f.Check.Measure.Unit()) }

// Bracket draws where the figure stands, with the repeats as its trail.
func (f FinalFigure) Bracket() Bracket {
	return Bracket{Limit: f.Limit, U: f.U, Reading: f.Figure, Low: f.Low, High: f.High, State: f.State}
}

// StepReasonKind sorts why a final test does not pass.
type StepReasonKind string

// The kinds of reason, the most important first.
const (
	FigureOutside   StepReasonKind = "figure-outside"
	AnsweredNo      StepReasonKind = "answered-no"
	SoakFailed      StepReasonKind = "soak-failed"
	FigureInGuard   StepReasonKind = "figure-in-guard-band"
	NotDecidable    StepReasonKind = "not-decidable"
	NoUncertainty   StepReasonKind = "no-uncertainty"
	NotSure         StepReasonKind = "uncertainty-too-large"
	SoakUndecided   StepReasonKind = "soak-undecided"
	SoakMissing     StepReasonKind = "soak-missing"
	SoakTooShort    StepReasonKind = "soak-too-short"
	SoakTooOld      StepReasonKind = "soak-too-old"
	SoakSheet       StepReasonKind = "soak-by-another-sheet"
	CalibrationGone StepReasonKind = "calibration-overdue"
	NotSettled      StepReasonKind = "not-settled"
	NotMeasured     StepReasonKind = "not-measured"
	NotRead         StepReasonKind = "not-read"
	NotWatched      StepReasonKind = "not-watched"
	NotAnswered     StepReasonKind = "not-answered"
	WaitCutShort    StepReasonKind = "wait-cut-short"
	TakenTooOften   StepReasonKind = "taken-too-often"
	StepSkipped     StepReasonKind = "skipped"
	HeldBack        StepReasonKind = "held-back"
	NotTaken        StepReasonKind = "not-taken"
	TestGivenUp     StepReasonKind = "given-up"
	TestUnderWay    StepReasonKind = "under-way"
	NoFinalTest     StepReasonKind = "no-final-test"
)

var stepReasonOrder = [...]StepReasonKind{
	FigureOutside, AnsweredNo, SoakFailed, FigureInGuard, NotDecidable, NoUncertainty, NotSure, SoakUndecided, SoakMissing,
	SoakTooShort, SoakTooOld, SoakSheet, CalibrationGone, NotSettled, NotMeasured, NotRead, NotWatched, NotAnswered,
	WaitCutShort, TakenTooOften, StepSkipped, HeldBack, NotTaken, TestGivenUp, TestUnderWay, NoFinalTest,
}

func (k StepReasonKind) rank() int {
	for i, known := range stepReasonOrder {
		if k == known {
			return i
		}
	}
	return len(stepReasonOrder)
}

// outcome is what a reason of this kind leads to.
func (k StepReasonKind) outcome() Outcome {
	switch k {
	case FigureOutside, AnsweredNo, SoakFailed:
		return Fail
	}
	return Undecided
}

// StepReason is why a step, or the whole test, does not pass.
type StepReason struct {
	Kind StepReasonKind
	// Step is empty where the whole test is meant.
	Step StepName
	// Text says it in a sentence with figure, limit and uncertainty.
	Text string
	// Causes are what to look for: the sheet's likely causes, then what the diagnosis
	// of the records found.
	Causes []string
}

func (r StepReason) outcome() Outcome { return r.Kind.outcome() }
