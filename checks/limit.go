package checks

import (
	"errors"
	"fmt"
	"math"

	"soakline/device"
)

// Limit is what a figure must keep to. Low and High are in the measure's unit; a
// limit may be one-sided, then the other end is an infinity.
type Limit struct {
	Low, High float64
	// Nominal is the figure aimed at; NaN where there is none.
	Nominal float64
	// Source says where the limit comes from: a standard and clause, a data
	// sheet, "common practice, no source".
	Source string
	// Guard is the decision rule at the limit's edges.
	Guard GuardBand
}

// GuardBand is the part inside a limit in which a reading cannot be told to be
// inside: JCGM 106:2012 clause 8, ILAC-G8:09/2019 clause 4.
type GuardBand struct {
	// Rule is how the limit is applied.
	Rule DecisionRule
	// Ratio r gives the width w = r U, with U the expanded uncertainty (k = 2)
	// of the reading (ILAC-G8, 4.2). 1 unless the sheet says otherwise.
	Ratio float64
	// Width, if above 0, is a fixed width in the measure's unit instead.
	Width float64
}

// DecisionRule names how a figure near a limit is decided.
type DecisionRule string

// The decision rules. There are two: what other texts call shared risk is the
// simple rule under another name (JCGM 106:2012, 8.2; ILAC-G8, 4.2.1).
const (
	// Simple accepts up to the limit itself (guard band zero).
	Simple DecisionRule = "simple"
	// GuardBanded accepts up to the limit less the guard band; between the two
	// the figure is borderline, and as far beyond the limit too (the four-way
	// statement of ILAC-G8, 4.2.3).
	GuardBanded DecisionRule = "guard-banded"
)

// ErrNothingAccepted says that the guard bands leave nothing of the limit: the
// instrument can't decide the check, which is no fault of the unit.
var ErrNothingAccepted = errors.New("the guard bands leave nothing of the limit")

// WidthFor returns the guard band's width w for a figure with standard
// uncertainty u, in the measure's unit. A u of 0 or NaN is an uncertainty that
// nobody gave: then only a fixed Width has any.
func (g GuardBand) WidthFor(u float64) float64 {
	switch {
	case g.Rule != GuardBanded:
		return 0
	case g.Width > 0:
		return g.Width
	case math.IsNaN(u):
		return 0
	default:
		return float64(g.Ratio * CoverageFactor * u) // rounded here: see stream.add
	}
}

// AcceptanceInterval returns the ends of what is accepted of a figure with
// standard uncertainty u: Low + w and High - w (JCGM 106:2012, 8.3.2). A figure
// on either end is accepted. It fails with ErrNothingAccepted if 2 w is not less
// than the limit's width.
func (l Limit) AcceptanceInterval(u float64) (low, high float64, err error) {
	w := l.Guard.WidthFor(u)
	if l.consumed(w) {
		return math.NaN(), math.NaN(), fmt.Errorf("%w: %g on either side of %g to %g", ErrNothingAccepted, w, l.Low, l.High)
	}
	return l.Low + w, l.High - w, nil
}

// consumed tells whether guard bands of width w leave nothing of the limit.
func (l Limit) consumed(w float64) bool { return w > 0 && 2*w >= l.High-l.Low }

// Classify tells how a figure with standard uncertainty u stands to the limit:
// Within, Borderline or Outside, and nearest which edge. It is Borderline if the
// guard bands leave nothing, and Silent if the figure is NaN.
func (l Limit) Classify(figure, u float64) (State, Edge) {
	state, edge, _ := l.classify(figure, u)
	return state, edge
}

// classify is Classify, and tells if the guard bands leave nothing of the limit.
func (l Limit) classify(y, u float64) (State, Edge, bool) {
	w := l.Guard.WidthFor(u)
	switch {
	case math.IsNaN(y):
		return Silent, "", false
	case l.consumed(w):
		return Borderline, l.nearest(y), true
	case y > l.High+w:
		return Outside, HighEdge, false
	case y < l.Low-w:
		return Outside, LowEdge, false
	case y > l.High-w:
		return Borderline, HighEdge, false
	case y < l.Low+w:
		return Borderline, LowEdge, false
	default:
		return Within, l.nearest(y), false
	}
}

// nearest is the edge that y is nearest to.
func (l Limit) nearest(y float64) Edge {
	if y-l.Low < l.High-y {
		return LowEdge
	}
	return HighEdge
}

// At returns the limit's value at an edge.
func (l Limit) At(edge Edge) float64 {
	if edge == LowEdge {
		return l.Low
	}
	return l.High
}

// beyond is how far y is beyond an edge; negative while inside.
func (l Limit) beyond(edge Edge, y float64) float64 {
	if edge == LowEdge {
		return l.Low - y
	}
	return y - l.High
}

// inside tells whether y is inside both edges by at least h.
func (l Limit) inside(y, h float64) bool { return y >= l.Low+h && y <= l.High-h }

// Share is how much of the way from the middle of the limit to its edge a figure
// went: 0 in the middle, 1 on an edge, above 1 outside. A one-sided limit counts
// from its nominal figure, 0 on the far side of it; NaN if it has none.
func (l Limit) Share(figure float64) float64 {
	low, high := !math.IsInf(l.Low, 0), !math.IsInf(l.High, 0)
	switch {
	case low && high:
		half := (l.High - l.Low) / 2
		return math.Abs(figure-(l.Low+half)) / half
	case high && l.Nominal < l.High:
		return math.Max(0, (figure-l.Nominal)/(l.High-l.Nominal))
	case low && l.Nominal > l.Low:
		return math.Max(0, (l.Nominal-figure)/(l.Nominal-l.Low))
	default:
		return math.NaN()
	}
}

// Validate tells every mistake in the limit of a measure in unit, joined, each a
// *PathError with a path such as "low_v" or "guard.ratio".
func (l Limit) Validate(unit device.Unit) error {
	var m mistakes
	l.validate(&m, "", unit.KeySuffix)
	return m.err()
}

func (l Limit) validate(m *mistakes, path, suffix string) {
	low, high := path+"low"+suffix, path+"high"+suffix
	switch {
	case math.IsNaN(l.Low) || math.IsInf(l.Low, 1):
		m.add(low, "%g is no low limit", l.Low)
	case math.IsNaN(l.High) || math.IsInf(l.High, -1):
		m.add(high, "%g is no high limit", l.High)
	case math.IsInf(l.Low, -1) && math.IsInf(l.High, 1):
		m.add(low, "no limit: give a low limit, a high limit or both")
	case l.Low >= l.High:
		m.add(low, "low limit %g is not below the high limit %g", l.Low, l.High)
	case l.Nominal < l.Low || l.Nominal > l.High || math.IsInf(l.Nominal, 0):
		m.add(path+"nominal"+suffix, "nominal %g is not between the limits %g and %g", l.Nominal, l.Low, l.High)
	case l.Guard.Rule == GuardBanded && l.consumed(l.Guard.Width):
		m.add(path+"guard.width"+suffix, "%w: %g on either side of %g to %g", ErrNothingAccepted, l.Guard.Width, l.Low, l.High)
	}
	l.Guard.validate(m, path+"guard.", suffix)
}

func (g GuardBand) validate(m *mistakes, path, suffix string) {
	if g.Rule != Simple && g.Rule != GuardBanded {
		m.add(path+"rule", "unknown decision rule %q: it is %q or %q", g.Rule, Simple, GuardBanded)
	}
	if !(g.Ratio >= 0) || math.IsInf(g.Ratio, 0) {
		m.add(path+"ratio", "guard band ratio %g is not a number from 0 up", g.Ratio)
	}
	if !(g.Width >= 0) || math.IsInf(g.Width, 0) {
		m.add(path+"width"+suffix, "guard band width %g is not a number from 0 up", g.Width)
	}
	if g.Rule == GuardBanded && g.Ratio == 0 && g.Width == 0 {
		m.add(path+"ratio", "the rule is %q but the guard band has neither a ratio nor a width", GuardBanded)
	}
}
