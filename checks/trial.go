package checks

import (
	"fmt"
	"math"

	"soakline/device"
)

// Aim says what makes one candidate of a trial better than another.
type Aim string

// The aims.
const (
	// AtMost and AtLeast ask for a figure that keeps to the criterion's bound; all
	// that keep to it are equal, and what is beyond it is the worse the farther.
	AtMost  Aim = "at-most"
	AtLeast Aim = "at-least"
	// NearestNominal asks for the figure nearest to the nominal one of the check.
	NearestNominal Aim = "nearest-nominal"
	Most           Aim = "most"
	Least          Aim = "least"
)

// Criterion is one thing that the candidates of a trial are ranked by.
type Criterion struct {
	// TestPoint may be empty where only one comes into question, see
	// Sheet.TrialCriteria.
	TestPoint TestPointName
	Measure   device.Measure
	Aim       Aim
	// Bound belongs to AtMost and AtLeast, in the measure's unit.
	Bound float64
}

// Target is a criterion as it is applied: its test point is known, and so is the
// nominal figure that NearestNominal needs; NaN for other aims.
type Target struct {
	Criterion
	Nominal float64
}

// Key returns which figure the target looks at.
func (t Target) Key() CheckKey { return CheckKey{TestPoint: t.TestPoint, Measure: t.Measure} }

// String names the target as it is read aloud: "least overshoot", "rise at most
// 85 ns".
func (t Target) String() string {
	switch t.Aim {
	case AtMost:
		return fmt.Sprintf("%s at most %s", t.Measure, Figure(t.Bound, 0, t.Measure.Unit()))
	case AtLeast:
		return fmt.Sprintf("%s at least %s", t.Measure, Figure(t.Bound, 0, t.Measure.Unit()))
	case NearestNominal:
		return fmt.Sprintf("%s nearest nominal (%s)", t.Measure, Figure(t.Nominal, 0, t.Measure.Unit()))
	default:
		return fmt.Sprintf("%s %s", t.Aim, t.Measure)
	}
}

// badness is how far a figure is from the aim, the lower the better.
func (t Target) badness(value float64) float64 {
	switch t.Aim {
	case AtMost:
		return math.Max(0, value-t.Bound)
	case AtLeast:
		return math.Max(0, t.Bound-value)
	case NearestNominal:
		return math.Abs(value - t.Nominal)
	case Most:
		return -value
	default:
		return value
	}
}

// TrialCriteria returns the criteria of the sheet as they are applied, in the
// sheet's order. A criterion without a test point is about the one that checks
// its measure; a measure of composite video that none checks is about the only
// composite test point.
func (s Sheet) TrialCriteria() []Target {
	targets := make([]Target, len(s.Trial))
	for i, c := range s.Trial {
		c.TestPoint, _ = s.criterionPoint(c)
		targets[i] = Target{Criterion: c, Nominal: s.nominal(CheckKey{c.TestPoint, c.Measure})}
	}
	return targets
}

// criterionPoint returns the test point that a criterion is about; the error says
// why it is not clear which.
func (s Sheet) criterionPoint(c Criterion) (TestPointName, error) {
	if c.TestPoint != "" {
		return c.TestPoint, nil
	}
	var checking, composite []TestPointName
	for _, point := range s.TestPoints {
		if _, ok := point.check(c.Measure); ok {
			checking = append(checking, point.Name)
		}
		if point.IsComposite() {
			composite = append(composite, point.Name)
		}
	}
	switch {
	case len(checking) == 1:
		return checking[0], nil
	case len(checking) == 0 && c.Measure.OfVideo() && len(composite) == 1:
		return composite[0], nil
	case len(checking) > 1:
		return "", fmt.Errorf("%s is checked at %d test points: say which", c.Measure, len(checking))
	default:
		return "", fmt.Errorf("no test point gives %s: say which", c.Measure)
	}
}

// nominal is the nominal figure of a check; NaN where there is none.
func (s Sheet) nominal(key CheckKey) float64 {
	for _, point := range s.TestPoints {
		if check, ok := point.check(key.Measure); ok && point.Name == key.TestPoint {
			return check.Limit.Nominal
		}
	}
	return math.NaN()
}

// check returns the check of a measure at the test point.
func (p TestPoint) check(m device.Measure) (Check, bool) {
	for _, c := range p.Checks {
		if c.Measure == m {
			return c, true
		}
	}
	return Check{}, false
}

// IsComposite tells whether the test point is a composite video output: something
// is checked there that only a line of video has.
func (p TestPoint) IsComposite() bool {
	if p.Audio != nil {
		return false
	}
	for _, c := range p.Checks {
		if c.Measure.OfVideo() {
			return true
		}
	}
	return false
}

func (s Sheet) validateTrial(m *mistakes, points map[TestPointName]int) {
	for i, c := range s.Trial {
		path := fmt.Sprintf("trial[%d].", i)
		if !c.Measure.Known() {
			m.add(path+"measure", "unknown measure %q", c.Measure)
			continue
		}
		if _, known := points[c.TestPoint]; c.TestPoint != "" && !known {
			m.add(path+"test_point", "there is no test point %q", c.TestPoint)
			continue
		}
		point, err := s.criterionPoint(c)
		if err != nil {
			m.add(path+"measure", "%w", err)
			continue
		}
		s.validateAim(m, path, c, CheckKey{point, c.Measure})
	}
}

func (s Sheet) validateAim(m *mistakes, path string, c Criterion, key CheckKey) {
	switch c.Aim {
	case Most, Least:
	case AtMost, AtLeast:
		if math.IsNaN(c.Bound) || math.IsInf(c.Bound, 0) {
			m.add(path+"measure", "%g is no bound", c.Bound)
		}
	case NearestNominal:
		if math.IsNaN(s.nominal(key)) {
			m.add(path+"nearest_nominal", "the sheet has no nominal figure for %s", key)
		}
	default:
		m.add(path+"measure", "unknown aim %q: it is %s, %s, %s, %s or %s", c.Aim, AtMost, AtLeast, NearestNominal, Most, Least)
	}
}
