package checks

import (
	"time"
)

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
	// Begin and End are the time that was judged, in UTC; Planned is how long it
	// was to be.
	Begin, End time.Time
	Planned    time.Duration
	// Evidence is the smallest share of the soak covered by any check.
	Evidence float64
	// Checks are in the order of the sheet.
	Checks []CheckResult
	// Reasons are what decided, the most important first; empty for a pass.
	Reasons []Reason
}

// CheckResult is one check's part in a verdict. Times are in UTC; a figure that
// is not known is NaN.
type CheckResult struct {
	Check   CheckKey
	Outcome Outcome
	// Readings is how many were judged.
	Readings int
	// Settling were read before the settle time was over or are the baseline,
	// OutOfOrder went back in time, Unusable were no finite number, Unreferenced
	// had no fresh reference: none of them was judged. Lost never arrived here.
	Settling, OutOfOrder, Unusable, Unreferenced, Lost int
	// WithoutUncertainty were judged by a guard band that needs an uncertainty
	// which nobody gave, so that it had no width.
	WithoutUncertainty int

	// Evidence is the covered share of the time from the settle time to the end.
	Evidence   float64
	LongestGap time.Duration
	Low, High  float64 // smallest and largest figure compared with the limit
	Mean       float64
	// WorstShare is how much of the way from the middle of the limit to its edge
	// the worst figure went: 1 is on the edge.
	WorstShare float64

	// Excursions are the worst, in order of time, of as many outside and
	// borderline ones as the counts say, which lasted for the durations.
	Excursions                []Excursion
	OutsideCount              int
	BorderlineCount           int
	OutsideFor, BorderlineFor time.Duration
	// Gaps are the longest, in order of time, of GapCount that make GapTotal.
	Gaps     []Gap
	GapCount int
	GapTotal time.Duration

	Reasons []Reason
}

// Unlisted is how many excursions are counted but not among Excursions.
func (r CheckResult) Unlisted() int {
	return r.OutsideCount + r.BorderlineCount - len(r.Excursions)
}

// Sentences returns the verdict's reasons in words, times as a clock in loc shows
// them; UTC if loc is nil. The outcome does not depend on loc.
func (v Verdict) Sentences(loc *time.Location) []string {
	var all []string
	for _, r := range v.Reasons {
		all = append(all, r.Sentence(loc))
	}
	return all
}
