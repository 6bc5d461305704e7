package config

import (
	"math"
	"strings"

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
	limit.Low = s.quantity("low", m, optional, math.Inf(-1))
	limit.High = s.quantity("high", m, optional, math.Inf(1))
	limit.Nominal = s.quantity("nominal", m, optional, math.NaN())
	if s.has("source") {
		limit.Source = s.text("source", required)
	} else {
		s.value("source", optional)
		s.missing("source", `say where the limit comes from, if only "common practice, no source"`)
	}
	if at := s.sub("guard", optional); at != nil {
		limit.Guard.Rule = checks.DecisionRule(at.oneOf("rule", "decision rule", string(checks.GuardBanded), string(checks.Simple), string(checks.GuardBanded)))
		limit.Guard.Ratio = at.number("ratio", optional, limit.Guard.Ratio)
		limit.Guard.Width = at.quantity("width", m, optional, 0)
		at.done()
	}
	if m.Known() && !s.mentions("low") && !s.mentions("high") {
		suffix := m.Unit().KeySuffix
		s.doc.mistakef(s.doc.place(s.path), s.path, "has no end: add low%s, high%s or both", suffix, suffix)
	}
	s.done()
	return limit
}

// missing reports a key that is not there, with what to do about it.
func (s *section) missing(key, advice string) {
	s.doc.mistakef(position{s.node.Line, s.node.Column}, under(s.path, key), "is missing: %s", advice)
}

// mentions tells whether any key of the section begins with the stem.
func (s *section) mentions(stem string) bool {
	for _, key := range s.keys() {
		if key == stem || strings.HasPrefix(key, stem+"_") {
			return true
		}
	}
	return false
}
