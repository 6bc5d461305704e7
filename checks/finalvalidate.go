package checks

import (
	"fmt"
	"math"
	"slices"
)

// validateFinal looks at the final test; what it may refer to is the whole sheet's.
func (s Sheet) validateFinal(m *mistakes) {
	s.Final.Decision.validate(m, "final.decision.")
	if s.Final.AgainAtMost < 0 {
		m.add("final.again_at_most", "%d is less than never", s.Final.AgainAtMost)
	}
	before := map[StepName]int{}
	for i, step := range s.Final.Steps {
		path := fmt.Sprintf("final.steps[%d].", i)
		if first, twice := before[step.Name]; twice && step.Name != "" {
			m.add(path+"name", "step %q is there already, as steps[%d]", step.Name, first)
		}
		if step.Name == "" {
			m.add(path+"name", "the step has no name")
		}
		for k, name := range step.After {
			if _, known := before[name]; !known {
				m.add(fmt.Sprintf("%safter[%d]", path, k), "there is no step %q before this one", name)
			}
		}
		s.validateStep(m, path, step)
		if _, twice := before[step.Name]; !twice {
			before[step.Name] = i
		}
	}
}

func (d FinalDecision) validate(m *mistakes, path string) {
	switch d.Rule {
	case "", Simple, GuardBanded, SharedRisk:
	default:
		m.add(path+"rule", "unknown decision rule %q: it is %q, %q or %q", d.Rule, Simple, GuardBanded, SharedRisk)
	}
	if d.Rule == GuardBanded && !(d.Ratio > 0 && !math.IsInf(d.Ratio, 0)) {
		m.add(path+"ratio", "guard band ratio %g is not above 0", d.Ratio)
	}
	if d.Rule == SharedRisk && !(d.UncertaintyAtMost > 0 && d.UncertaintyAtMost <= 1) {
		m.add(path+"uncertainty_at_most_pct", "%g %% is not above 0 and at most 100", 100*d.UncertaintyAtMost)
	}
}

func (s Sheet) validateStep(m *mistakes, path string, step FinalStep) {
	switch step.Kind {
	case StepMeasure:
		s.validateMeasureStep(m, path, step)
	case StepDischarge:
		point, known := s.testPoint(step.TestPoint)
		switch {
		case !known:
			m.add(path+"discharge", "there is no test point %q", step.TestPoint)
		case point.Discharge == nil:
			m.add(path+"discharge", "test point %q has no discharge section", step.TestPoint)
		}
	case StepQuestion:
		if step.Question == "" {
			m.add(path+"question", "the step asks nothing")
		}
		if !slices.Contains([]Sense{Look, Listen, Press}, step.Sense) {
			m.add(path+"sense", "%q is not %q, %q or %q", step.Sense, Look, Listen, Press)
		}
		if step.PassesWith != Yes && step.PassesWith != No {
			m.add(path+"passes_with", "%q is neither %q nor %q", step.PassesWith, Yes, No)
		}
	case StepSoak:
		if step.Soak.AtLeast < 0 || step.Soak.NotOlder < 0 {
			m.add(path+"soak", "a negative length of time")
		}
	case StepWait:
		if step.Wait <= 0 {
			m.add(path+"wait", "%s: a wait takes some time", step.Wait)
		}
	default:
		m.add(path+"name", "step %q does nothing: give it one of %s", step.Name, kindsInWords())
	}
}

func kindsInWords() string {
	text := ""
	for i, kind := range StepKinds() {
		if i > 0 {
			text += ", "
		}
		text += string(kind)
	}
	return text
}

func (s Sheet) validateMeasureStep(m *mistakes, path string, step FinalStep) {
	point, known := s.testPoint(step.TestPoint)
	if !known {
		m.add(path+"measure", "there is no test point %q", step.TestPoint)
		return
	}
	for k, measure := range step.Measures {
		check, found := point.check(measure)
		switch at := fmt.Sprintf("%sonly[%d]", path, k); {
		case !found:
			m.add(at, "test point %q does not check %s", step.TestPoint, measure)
		case check.Against.Baseline:
			m.add(at, "%s is compared with the beginning of a soak: a final test cannot tell it", measure)
		}
	}
	if len(s.FinalChecks(step)) == 0 && len(step.Measures) == 0 {
		m.add(path+"measure", "test point %q has nothing that one reading can be held against", step.TestPoint)
	}
	if step.Repeats < 1 {
		m.add(path+"repeats", "%d: a step is taken at least once", step.Repeats)
	}
	s.validateReferenceOf(m, path, step)
	step.Settling.validate(m, path+"settling.", s.FinalChecks(step))
}

// validateReferenceOf sees that what a check is compared with has been read before.
func (s Sheet) validateReferenceOf(m *mistakes, path string, step FinalStep) {
	for _, check := range s.FinalChecks(step) {
		key, compared := check.Against.Key(check.Measure)
		if !compared || key.TestPoint == step.TestPoint {
			continue
		}
		read := slices.ContainsFunc(s.Final.Steps, func(other FinalStep) bool {
			return other.Kind == StepMeasure && other.TestPoint == key.TestPoint &&
				slices.ContainsFunc(s.FinalChecks(other), func(c Check) bool { return c.Measure == key.Measure })
		})
		if !read {
			m.add(path+"measure", "%s %s is compared with %s, which no step measures", step.TestPoint, check.Measure, key)
		}
	}
}

func (s StepSettling) validate(m *mistakes, path string, taken []Check) {
	if s == (StepSettling{}) {
		return
	}
	if !slices.ContainsFunc(taken, func(c Check) bool { return c.Measure == s.Measure }) {
		m.add(path+"measure", "the step does not take %q", s.Measure)
	}
	if !(s.Spread > 0) || math.IsInf(s.Spread, 0) {
		m.add(path+"spread"+s.Measure.Unit().KeySuffix, "a spread of %g: readings are never that steady", s.Spread)
	}
	if s.For <= 0 {
		m.add(path+"for", "%s: settling takes some time", s.For)
	}
	if s.Within <= s.For {
		m.add(path+"within", "%s is not longer than the %s that readings must stay", s.Within, s.For)
	}
}
