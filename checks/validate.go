package checks

import (
	"fmt"
	"math"
	"time"
)

// Validate tells every mistake in the sheet, joined (errors.Join), each a
// *PathError whose path is spelled as in the sheet's file.
func (s Sheet) Validate() error {
	var m mistakes
	if s.Name == "" {
		m.add("name", "the sheet has no name")
	}
	if s.Console == "" {
		m.add("console", "the sheet names no console")
	}
	if s.VideoSystem != "" && s.VideoSystem != "625/50" && s.VideoSystem != "525/60" {
		m.add("video_system", `unknown video system %q: it is "625/50", "525/60" or left out`, s.VideoSystem)
	}
	if len(s.TestPoints) == 0 {
		m.add("test_points", "the sheet has no test points")
	}
	first := make(map[TestPointName]int, len(s.TestPoints))
	for i, p := range s.TestPoints {
		path := fmt.Sprintf("test_points[%d].", i)
		if before, twice := first[p.Name]; twice && p.Name != "" {
			m.add(path+"name", "test point %q is there already, as test_points[%d]", p.Name, before)
		} else {
			first[p.Name] = i
		}
		p.validate(&m, path)
	}
	s.validateReferences(&m, first)
	s.validateAudio(&m, first)
	s.validateWear(&m, first)
	s.validateReservoirs(&m, first)
	s.Soak.validate(&m, "soak.")
	if s.Soak.Cycles != nil {
		s.Soak.Cycles.validate(&m, "soak.power_cycles.", s)
	}
	s.validateTrial(&m, first)
	s.validateFinal(&m)
	return m.err()
}

func (p TestPoint) validate(m *mistakes, path string) {
	if p.Name == "" {
		m.add(path+"name", "the test point has no name")
	}
	if len(p.Checks) == 0 {
		m.add(path+"checks", "test point %q checks nothing", p.Name)
	}
	for j, c := range p.Checks {
		at := fmt.Sprintf("%schecks[%d].", path, j)
		for k := range j {
			if p.Checks[k].Measure == c.Measure && c.Measure != "" {
				m.add(at+"measure", "%q is checked already, as checks[%d]", c.Measure, k)
				break
			}
		}
		c.validate(m, at)
	}
	if p.Discharge != nil {
		p.Discharge.validate(m, path+"discharge.")
	}
	if p.Audio != nil {
		p.Audio.validate(m, path+"audio.")
	}
	if p.Reservoir != nil {
		p.Reservoir.validate(m, path+"reservoir.")
	}
	p.validateKind(m, path)
	if p.Wear != nil {
		p.Wear.validate(m, path+"wear.")
	}
}

// Validate tells every mistake in a check, joined, each a *PathError such as
// "limit.low_v"; what it is compared with is the sheet's to validate.
func (c Check) Validate() error {
	var m mistakes
	c.validate(&m, "")
	return m.err()
}

func (c Check) validate(m *mistakes, path string) {
	if !c.Measure.Known() {
		m.add(path+"measure", "unknown measure %q", c.Measure)
	}
	suffix := c.Measure.Unit().KeySuffix
	c.Limit.validate(m, path+"limit.", suffix)
	c.validateTimes(m, path)
	switch half := (c.Limit.High - c.Limit.Low) / 2; {
	case !(c.Hysteresis >= 0) || math.IsInf(c.Hysteresis, 0):
		m.add(path+"hysteresis"+suffix, "hysteresis %g is not a number from 0 up", c.Hysteresis)
	case half > 0 && c.Hysteresis >= half:
		m.add(path+"hysteresis"+suffix, "hysteresis %g leaves nothing of the limit: an excursion could never end", c.Hysteresis)
	}
	c.Against.validate(m, path+"against.")
	c.validateDrift(m, path+"drift.")
}

func (c Check) validateTimes(m *mistakes, path string) {
	notBelowZero := func(key string, d time.Duration) {
		if d < 0 {
			m.add(path+key, "%s is negative", d)
		}
	}
	notBelowZero("every", c.Every)
	notBelowZero("hold", c.Hold)
	notBelowZero("settle", c.Settle)
	switch {
	case c.FreshFor < time.Microsecond:
		m.add(path+"fresh_for", "%s: a reading must be fresh for some time", c.FreshFor)
	case c.FreshFor < c.Every:
		m.add(path+"fresh_for", "%s is shorter than every %s: the check would fall silent between two readings", c.FreshFor, c.Every)
	}
}

func (r Reference) validate(m *mistakes, path string) {
	switch {
	case r.Baseline && r.TestPoint != "":
		m.add(path+"test_point", "compare with a test point or with the baseline, not with both")
	case r.Baseline && r.BaselineFor < time.Microsecond:
		m.add(path+"baseline_for", "%s: a baseline takes some time", r.BaselineFor)
	case !r.Baseline && r.BaselineFor != 0:
		m.add(path+"baseline_for", "%s is given, but the check is not compared with its baseline", r.BaselineFor)
	case r.TestPoint == "" && r.Measure != "":
		m.add(path+"measure", "%q is given, but no test point to read it at", r.Measure)
	case r.Measure != "" && !r.Measure.Known():
		m.add(path+"measure", "unknown measure %q", r.Measure)
	}
}

// validateReferences looks at what needs the whole sheet: whom a check is
// compared with.
func (s Sheet) validateReferences(m *mistakes, points map[TestPointName]int) {
	for i, p := range s.TestPoints {
		for j, c := range p.Checks {
			path := fmt.Sprintf("test_points[%d].checks[%d].against.", i, j)
			key, ok := c.Against.Key(c.Measure)
			if !ok {
				continue
			}
			_, known := points[key.TestPoint]
			switch {
			case !known:
				m.add(path+"test_point", "there is no test point %q", key.TestPoint)
			case key == CheckKey{TestPoint: p.Name, Measure: c.Measure}:
				m.add(path+"test_point", "%s would be compared with itself", key)
			case key.Measure.Known() && c.Measure.Known() && key.Measure.Unit() != c.Measure.Unit():
				m.add(path+"measure", "%s and %s are in different units", key.Measure, c.Measure)
			}
		}
	}
}

func (p SoakPlan) validate(m *mistakes, path string) {
	if p.Duration < time.Microsecond {
		m.add(path+"duration", "%s: a soak takes some time", p.Duration)
	}
	if !(p.EvidenceAtLeast >= 0 && p.EvidenceAtLeast <= 1) {
		m.add(path+"evidence_at_least_pct", "%g %% is not between 0 and 100", 100*p.EvidenceAtLeast)
	}
	if p.RemindEvery < 0 {
		m.add(path+"remind_every", "%s is negative", p.RemindEvery)
	}
	if p.LongestGap < 0 {
		m.add(path+"longest_gap", "%s is negative", p.LongestGap)
	}
}
