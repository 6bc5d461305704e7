package config

import (
	"time"

	"soakline/checks"
	"soakline/device"
)

// What a final test need not say; workshop defaults, common practice, no source.
const (
	defaultAgain         = 2
	defaultUncertainty   = 25 // percent of a limit's width, of shared risk
	defaultSettledFor    = 2 * time.Second
	defaultSettledWithin = time.Minute
)

// readFinal reads the final test; without the section there is none.
func readFinal(s *section) checks.FinalPlan {
	if s == nil {
		return checks.FinalPlan{}
	}
	plan := checks.FinalPlan{AgainAtMost: s.integer("again_at_most", optional, defaultAgain),
		Decision: readDecision(s.sub("decision", optional))}
	for _, at := range s.list("steps", required) {
		plan.Steps = append(plan.Steps, readStep(at))
	}
	s.done()
	return plan
}

// readDecision reads the rule by which figures near a limit are decided.
func readDecision(s *section) checks.FinalDecision {
	if s == nil {
		return checks.FinalDecision{}
	}
	d := checks.FinalDecision{Rule: checks.DecisionRule(s.oneOf("rule", "decision rule", "", string(checks.Simple), string(checks.GuardBanded), string(checks.SharedRisk)))}
	if d.Rule == "" {
		s.missing("rule", "say how figures near a limit are decided: simple, guard-banded or shared-risk")
	}
	// What belongs to another rule stays unasked, so that it is reported.
	known := d.Rule == checks.Simple || d.Rule == checks.GuardBanded || d.Rule == checks.SharedRisk
	if d.Rule == checks.GuardBanded || !known {
		d.Ratio = s.number("ratio", optional, 1)
	}
	if d.Rule == checks.SharedRisk || !known {
		d.UncertaintyAtMost = s.number("uncertainty_at_most_pct", optional, defaultUncertainty) / 100
	}
	s.done()
	return d
}

// kindKeys are the keys that say what is done in a step; a step has one of them.
var kindKeys = []checks.StepKind{checks.StepMeasure, checks.StepSoak, checks.StepDischarge, checks.StepQuestion, checks.StepWait}

// readStep reads one step. Its kind is the one key of kindKeys that it has.
func readStep(s *section) checks.FinalStep {
	if s == nil {
		return checks.FinalStep{}
	}
	step := checks.FinalStep{
		Name:    checks.StepName(s.text("name", required)),
		About:   s.text("about", optional),
		Connect: s.text("connect", optional),
		Caution: s.text("caution", optional),
		Causes:  s.texts("causes", optional),
	}
	for _, name := range s.texts("after", optional) {
		step.After = append(step.After, checks.StepName(name))
	}
	for _, kind := range kindKeys {
		switch {
		case !s.has(string(kind)):
		case step.Kind == "":
			step.Kind = kind
		default:
			s.value(string(kind), optional)
			s.wrong(string(kind), "a step is one thing: it has %q already", step.Kind)
		}
	}
	readStepKind(s, &step)
	s.done()
	return step
}

func readStepKind(s *section, step *checks.FinalStep) {
	switch step.Kind {
	case checks.StepMeasure:
		readMeasureStep(s, step)
	case checks.StepDischarge:
		step.TestPoint = checks.TestPointName(s.text("discharge", required))
	case checks.StepSoak:
		if at := s.sub("soak", required); at != nil {
			step.Soak = checks.SoakCondition{AtLeast: at.duration("at_least", optional, 0), NotOlder: at.duration("not_older", optional, 0)}
			at.done()
		}
	case checks.StepQuestion:
		step.Question = s.text("question", required)
		step.Sense = checks.Sense(s.oneOf("sense", "sense", string(checks.Look), string(checks.Look), string(checks.Listen), string(checks.Press)))
		step.PassesWith = checks.Answer(s.oneOf("passes_with", "answer", string(checks.Yes), string(checks.Yes), string(checks.No)))
	case checks.StepWait:
		step.Wait = s.duration("wait", required, 0)
	default:
		for _, kind := range kindKeys {
			s.value(string(kind), optional)
		}
	}
}

// readMeasureStep reads what a measurement has besides.
func readMeasureStep(s *section, step *checks.FinalStep) {
	step.TestPoint = checks.TestPointName(s.text("measure", required))
	step.CausesLow, step.CausesHigh = s.texts("causes_low", optional), s.texts("causes_high", optional)
	for _, m := range s.texts("only", optional) {
		step.Measures = append(step.Measures, device.Measure(m))
	}
	step.Repeats = s.integer("repeats", optional, 1)
	at := s.sub("settling", optional)
	if at == nil {
		return
	}
	m := at.measure("measure", required)
	step.Settling = checks.StepSettling{Measure: m, Spread: at.quantity("spread", m, required, 0),
		For: at.duration("for", optional, defaultSettledFor), Within: at.duration("within", optional, defaultSettledWithin)}
	at.done()
}
