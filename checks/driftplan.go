package checks

import (
	"math"
	"time"

	"soakline/checks/drift"
)

// DriftPlan is how a check is watched for readings that wander while they are still
// within the limit. It changes no verdict.
type DriftPlan struct {
	// WarmUp is how long after the soak's first reading readings are left out;
	// Baseline how long after it the level and the spread are learnt.
	WarmUp, Baseline time.Duration
	// SmallestShift is the least change of level worth an alarm, in the measure's
	// unit; 0 leaves it to the width of the limit (see drift.Options).
	SmallestShift float64
}

func (c Check) validateDrift(m *mistakes, path string) {
	p := c.Drift
	if p == nil {
		return
	}
	if p.WarmUp < 0 {
		m.add(path+"warm_up", "%s is negative", p.WarmUp)
	}
	if p.Baseline < time.Microsecond {
		m.add(path+"baseline", "%s: a baseline takes some time", p.Baseline)
	}
	if suffix := c.Measure.Unit().KeySuffix; !(p.SmallestShift >= 0) || math.IsInf(p.SmallestShift, 0) {
		m.add(path+"smallest_shift"+suffix, "smallest shift %g is not a number from 0 up", p.SmallestShift)
	}
	if c.Against != (Reference{}) {
		m.add(path+"baseline", "drift is watched in the reading itself, and this check limits a difference: watch it at a check without against")
	}
}

// driftOptions are the plan's with the limit's ends; an open end is no limit.
func (c Check) driftOptions() drift.Options {
	end := func(x float64) *float64 {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return nil
		}
		return &x
	}
	return drift.Options{LowLimit: end(c.Limit.Low), HighLimit: end(c.Limit.High), WarmUp: c.Drift.WarmUp,
		Baseline: c.Drift.Baseline, SmallestShift: c.Drift.SmallestShift}
}
