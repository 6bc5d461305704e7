package config

import (
	"math"

	"soakline/checks"
	"soakline/device"
)

// readLimit reads what a figure must keep to. At least one end is needed; the
// other is then open. Every limit says where it comes from.
func readLimit(s *section, m device.Measure) checks.Limit {
	limit := checks.Limit{Guard: checks.GuardBand{Rule: checks.GuardBanded, Ratio: 1}}
	if s == nil {
		return limit
	}
	if s.has("source") {
		limit.Source = s.text("source", required)
	} else {
		s.value("source", optional)
		s.missing("source", `say where the limit comes from, if only "common practice, no source"`)
	}
	before := len(s.doc.mistakes)
	limit.Low = s.quantity("low", m, optional, math.Inf(-1))
	limit.High = s.quantity("high", m, optional, math.Inf(1))
	limit.Nominal = s.quantity("nominal", m, optional, math.NaN())
	if at := s.sub("guard", optional); at != nil {
		limit.Guard = readGuard(at, m, limit.Guard)
	}
	s.done()
	if len(s.doc.mistakes) > before || !m.Known() {
		s.hush(m, "low", "high", "nominal", "guard.width")
	}
	return limit
}

// readGuard reads the decision rule at a limit's edges, on top of what is so far.
func readGuard(s *section, m device.Measure, so checks.GuardBand) checks.GuardBand {
	so.Rule = checks.DecisionRule(s.oneOf("rule", "decision rule", string(so.Rule), string(checks.Simple), string(checks.GuardBanded)))
	so.Ratio = s.number("ratio", optional, so.Ratio)
	so.Width = s.quantity("width", m, optional, 0)
	s.done()
	return so
}

// missing reports a key that is not there, with what to do about it.
func (s *section) missing(key, advice string) {
	s.doc.mistakef(position{s.node.Line, s.node.Column}, under(s.path, key), "is missing: %s", advice)
}

// hush keeps the domain's rules from speaking of an end that could not be read.
func (s *section) hush(m device.Measure, stems ...string) {
	for _, stem := range stems {
		s.doc.hushed[under(s.path, stem+m.Unit().KeySuffix)] = true
	}
}
