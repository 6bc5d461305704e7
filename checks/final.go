package checks

import (
	"time"

	"soakline/device"
)

// StepName names a step of a final test; unique within its sheet.
type StepName string

// FinalPlan is a console's final test: the steps that a unit must pass, in order,
// and the rule by which figures near a limit are decided. A plan without steps is
// no final test.
type FinalPlan struct {
	Decision FinalDecision
	// AgainAtMost is how often a step may be taken once more; beyond it the test is
	// undecided, so that nobody measures until it fits.
	AgainAtMost int
	Steps       []FinalStep
}

// FinalDecision is the decision rule of a final test. The zero value leaves each
// limit to its own guard band.
type FinalDecision struct {
	// Rule is Simple, GuardBanded or SharedRisk; empty where each limit's own holds.
	Rule DecisionRule
	// Ratio r gives the guard band w = r U of GuardBanded; a limit's own fixed width
	// stays.
	Ratio float64
	// UncertaintyAtMost is the largest U of SharedRisk, as a share of the limit's
	// width.
	UncertaintyAtMost float64
}

// SharedRisk accepts up to the limit itself, as Simple does, but only figures whose
// expanded uncertainty is known and small enough for both sides to bear the risk of
// being wrong (JCGM 106:2012, 8.2, clause from memory; ILAC-G8:09/2019, 4.2.1). It
// is a rule of final tests; a limit's own rule is one of the other two.
const SharedRisk DecisionRule = "shared-risk"

// StepKind says what is done in a step.
type StepKind string

// The kinds of step.
const (
	// StepMeasure takes readings at a test point and holds them against its limits.
	StepMeasure StepKind = "measure"
	// StepSoak asks for a soak of the unit that has passed.
	StepSoak StepKind = "soak"
	// StepDischarge watches a capacitor's voltage down, and whether it comes back.
	StepDischarge StepKind = "discharge"
	// StepQuestion asks a person who looks, listens or presses.
	StepQuestion StepKind = "question"
	// StepWait lets time pass.
	StepWait StepKind = "wait"
)

// StepKinds lists the kinds in a fixed order.
func StepKinds() []StepKind {
	return []StepKind{StepMeasure, StepSoak, StepDischarge, StepQuestion, StepWait}
}

// FinalStep is one step. What it has besides its name and texts follows from Kind.
type FinalStep struct {
	Name StepName
	Kind StepKind
	// About says in a few words what the step is for, Connect what to connect where,
	// Caution what a person must have read before hands go near. Where they are empty
	// and the step has a test point, those of the test point are shown.
	About, Connect, Caution string
	// After are earlier steps that must have passed before this one is taken.
	After []StepName
	// Causes are likely causes to look for where the step does not pass; CausesLow
	// and CausesHigh for a figure beyond that edge.
	Causes, CausesLow, CausesHigh []string

	// TestPoint is where StepMeasure and StepDischarge read.
	TestPoint TestPointName
	// Measures of StepMeasure are checks of the test point; empty for all that a
	// single reading can be held against.
	Measures []device.Measure
	// Settling of StepMeasure must be over before its figures are taken.
	Settling StepSettling
	// Repeats is how often StepMeasure takes its figures; each of them must pass.
	Repeats int

	Soak SoakCondition

	// Sense of StepQuestion is what it takes, Question what is asked, and PassesWith
	// the answer, Yes or No, that is a pass.
	Sense      Sense
	Question   string
	PassesWith Answer

	// Wait is how long StepWait lasts.
	Wait time.Duration
}

// StepSettling says when a reading may be taken: when the readings of Measure have
// stayed within Spread (largest less smallest, in the measure's unit) for For. If
// they have not after Within, the step goes on and is undecided. The zero value
// asks for nothing.
type StepSettling struct {
	Measure     device.Measure
	Spread      float64
	For, Within time.Duration
}

// Asked tells whether there is anything to wait for.
func (s StepSettling) Asked() bool { return s.For > 0 }

// SoakCondition is what a unit's latest soak must be besides passed.
type SoakCondition struct {
	// AtLeast is how long it must have been; 0 is as long as the sheet's soak plan.
	AtLeast time.Duration
	// NotOlder is how long before the step it may have ended; 0 is for ever.
	NotOlder time.Duration
}

// Sense is what a person uses to answer a question.
type Sense string

// What a question takes.
const (
	Look   Sense = "look"
	Listen Sense = "listen"
	Press  Sense = "press"
)

// Answer is what a person says to a question.
type Answer string

// The two answers.
const (
	Yes Answer = "yes"
	No  Answer = "no"
)

// NeedsPerson tells whether nobody but a person can take the step: to answer, or to
// take the plug out. A caution does not: what is wired already is read hands-free.
func (s FinalStep) NeedsPerson() bool { return s.Kind == StepQuestion || s.Kind == StepDischarge }

// Step returns the step of that name.
func (p FinalPlan) Step(name StepName) (FinalStep, bool) {
	for _, s := range p.Steps {
		if s.Name == name {
			return s, true
		}
	}
	return FinalStep{}, false
}

// FinalTexts returns what to connect, what to beware of and what a step is about:
// its own words, or those of its test point.
func (s Sheet) FinalTexts(step FinalStep) (about, connect, caution string) {
	point, _ := s.testPoint(step.TestPoint)
	return orElse(step.About, point.About), orElse(step.Connect, point.Connect), orElse(step.Caution, point.Caution)
}

func orElse(text, otherwise string) string {
	if text == "" {
		return otherwise
	}
	return text
}

// testPoint returns the test point of that name.
func (s Sheet) testPoint(name TestPointName) (TestPoint, bool) {
	for _, p := range s.TestPoints {
		if p.Name == name {
			return p, true
		}
	}
	return TestPoint{}, false
}

// FinalChecks are the checks that a StepMeasure is judged by, in the sheet's order:
// those of its measures, or all of the test point but what counts in a soak only,
// the drift from its own beginning.
func (s Sheet) FinalChecks(step FinalStep) []Check {
	point, _ := s.testPoint(step.TestPoint)
	var all []Check
	for _, check := range point.Checks {
		wanted := len(step.Measures) == 0
		for _, m := range step.Measures {
			wanted = wanted || m == check.Measure
		}
		if wanted && !check.Against.Baseline {
			all = append(all, check)
		}
	}
	return all
}
