package config

import (
	"strconv"

	"go.yaml.in/yaml/v3"

	"soakline/checks"
)

// formatFinal returns the final test as readFinal reads it.
func formatFinal(plan checks.FinalPlan) *yaml.Node {
	g := group{}
	if d := plan.Decision; d.Rule != "" {
		decision := group{}
		decision.text("rule", string(d.Rule))
		switch d.Rule {
		case checks.GuardBanded:
			decision.figure("ratio", d.Ratio)
		case checks.SharedRisk:
			decision.put("uncertainty_at_most_pct", plain(percent(d.UncertaintyAtMost)))
		}
		g.put("decision", decision.node())
	}
	g.put("again_at_most", plain(strconv.Itoa(plan.AgainAtMost)))
	steps := &yaml.Node{Kind: yaml.SequenceNode}
	for _, step := range plan.Steps {
		at := formatStep(step)
		steps.Content = append(steps.Content, at.node())
	}
	g.put("steps", steps)
	return g.node()
}

// formatStep writes a step; the key of its kind says what it is.
func formatStep(step checks.FinalStep) group {
	g := group{}
	g.text("name", string(step.Name))
	g.words("about", step.About)
	g.words("connect", step.Connect)
	g.words("caution", step.Caution)
	switch step.Kind {
	case checks.StepMeasure:
		formatMeasureStep(&g, step)
	case checks.StepDischarge:
		g.text("discharge", string(step.TestPoint))
	case checks.StepSoak:
		soak := group{}
		soak.span("at_least", step.Soak.AtLeast)
		soak.span("not_older", step.Soak.NotOlder)
		g.put("soak", soak.node())
	case checks.StepQuestion:
		g.text("question", step.Question)
		g.text("sense", string(step.Sense))
		g.text("passes_with", string(step.PassesWith))
	case checks.StepWait:
		g.span("wait", step.Wait)
	}
	g.lines("causes", step.Causes)
	var after []string
	for _, name := range step.After {
		after = append(after, string(name))
	}
	g.lines("after", after)
	return g
}

func formatMeasureStep(g *group, step checks.FinalStep) {
	g.text("measure", string(step.TestPoint))
	var only []string
	for _, m := range step.Measures {
		only = append(only, string(m))
	}
	g.lines("only", only)
	g.put("repeats", plain(strconv.Itoa(step.Repeats)))
	if s := step.Settling; s.Asked() {
		settling := group{}
		settling.text("measure", string(s.Measure))
		settling.figure("spread"+s.Measure.Unit().KeySuffix, s.Spread)
		settling.span("for", s.For)
		settling.span("within", s.Within)
		g.put("settling", settling.node())
	}
	g.lines("causes_low", step.CausesLow)
	g.lines("causes_high", step.CausesHigh)
}

// lines is a list of texts for a key that is left out when there is none.
func (g *group) lines(key string, texts []string) {
	if len(texts) == 0 {
		return
	}
	list := &yaml.Node{Kind: yaml.SequenceNode}
	for _, text := range texts {
		n := &yaml.Node{}
		n.SetString(text)
		list.Content = append(list.Content, n)
	}
	g.put(key, list)
}
