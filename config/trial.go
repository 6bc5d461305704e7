package config

import (
	"strings"

	"soakline/checks"
)

// readCriterion reads one thing that the candidates of a trial are ranked by: a
// measure, what makes it better, and a bound where the aim needs one.
func readCriterion(s *section) checks.Criterion {
	if s == nil {
		return checks.Criterion{}
	}
	c := checks.Criterion{
		TestPoint: checks.TestPointName(s.text("test_point", optional)),
		Measure:   s.measure("measure", required),
	}
	aims := []string{string(checks.AtMost), string(checks.AtLeast), string(checks.NearestNominal), string(checks.Most), string(checks.Least)}
	before := len(s.doc.mistakes)
	if s.has("aim") {
		c.Aim = checks.Aim(s.oneOf("aim", "aim", "", aims...))
	} else {
		s.value("aim", optional)
		s.missing("aim", "say what makes a candidate better: "+strings.Join(aims, ", "))
	}
	if len(s.doc.mistakes) > before {
		s.doc.hushed[under(s.path, "measure")] = true // the sheet's rules name the aim there
	}
	bounded := c.Aim == checks.AtMost || c.Aim == checks.AtLeast
	c.Bound = s.quantity("bound", c.Measure, need(bounded), 0)
	if key := "bound" + c.Measure.Unit().KeySuffix; !bounded && s.has(key) {
		s.wrong(key, "a bound belongs to %s and %s alone", checks.AtMost, checks.AtLeast)
	}
	s.done()
	return c
}

// formatCriterion returns the criterion as readCriterion reads it.
func formatCriterion(c checks.Criterion) group {
	g := group{}
	g.words("test_point", string(c.TestPoint))
	g.text("measure", string(c.Measure))
	g.text("aim", string(c.Aim))
	if c.Aim == checks.AtMost || c.Aim == checks.AtLeast {
		g.figure("bound"+c.Measure.Unit().KeySuffix, c.Bound)
	}
	return g
}
