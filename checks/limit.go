package checks

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

// The decision rules.
const (
	// Simple accepts up to the limit itself (guard band zero).
	Simple DecisionRule = "simple"
	// GuardBanded accepts up to the limit less the guard band; between the two
	// the figure is borderline.
	GuardBanded DecisionRule = "guard-banded"
)
