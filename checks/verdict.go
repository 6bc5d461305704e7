package checks

import "time"

// Outcome is the end of a judgement.
type Outcome string

// The three outcomes. No data is never a pass.
const (
	Pass      Outcome = "pass"
	Fail      Outcome = "fail"
	Undecided Outcome = "undecided"
)

// Verdict is what a sheet says of a soak's readings.
type Verdict struct {
	Outcome Outcome
	Unit    UnitID
	// SheetName and SheetHash name the sheet that was applied.
	SheetName, SheetHash string
	Begin, End           time.Time
	// Evidence is the smallest share of the soak covered by any check.
	Evidence float64
	Checks   []CheckResult
	// Reasons are the sentences that decided, the most important first; empty
	// for a pass.
	Reasons []string
}

// CheckResult is one check's part in a verdict.
type CheckResult struct {
	Check      CheckKey
	Outcome    Outcome
	Readings   int
	Evidence   float64
	LongestGap time.Duration
	Low, High  float64 // smallest and largest figure compared with the limit
	Mean       float64
	// WorstShare is how much of the way from the middle of the limit to its edge
	// the worst figure went: 1 is on the edge.
	WorstShare float64
	Excursions []Excursion
	Gaps       []Gap
	Reasons    []string
}
