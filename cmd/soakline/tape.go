package main

import (
	"fmt"
	"math"
	"strings"
	"time"

	"soakline/checks"
	"soakline/logger/page"
)

// tapeWidth is how many characters a soak's tape takes.
const tapeWidth = 40

// A tape runs over the planned time: what is written, a gap, an excursion, what
// is still to come. plainTape does for a terminal that shows nothing else.
type tapeMarks struct{ written, gap, excursion, blank string }

var (
	drawnTape = tapeMarks{written: "━", gap: " ", excursion: "▼", blank: "╌"}
	plainTape = tapeMarks{written: "#", gap: " ", excursion: "v", blank: "-"}
)

// tape draws a soak as it stands at a moment.
func tape(soak page.SoakView, at time.Time, marks tapeMarks) string {
	total := soak.PlannedEnd.Sub(soak.Begin)
	cells := make([]string, tapeWidth)
	place := func(t time.Time) int {
		if total <= 0 {
			return tapeWidth - 1
		}
		return min(max(int(float64(tapeWidth)*float64(t.Sub(soak.Begin))/float64(total)), 0), tapeWidth-1)
	}
	written := int(float64(tapeWidth) * soak.ProgressRatio)
	for i := range cells {
		cells[i] = marks.blank
		if i < written {
			cells[i] = marks.written
		}
	}
	for _, check := range soak.Checks {
		for _, gap := range check.Gaps {
			// A gap shorter than a cell is in the evidence, not on the tape.
			for i := place(gap.From) + 1; i < place(gap.To); i++ {
				cells[i] = marks.gap
			}
		}
	}
	for _, check := range soak.Checks {
		for _, excursion := range check.Excursions {
			to := at
			if excursion.To != nil {
				to = *excursion.To
			}
			for i := place(excursion.From); i <= place(to); i++ {
				cells[i] = marks.excursion
			}
		}
	}
	return "[" + strings.Join(cells, "") + "]"
}

// soakLine is a soak on one line: its tape, its time, its evidence and what is
// worst.
func soakLine(soak page.SoakView, at time.Time, marks tapeMarks) string {
	gone := min(at.Sub(soak.Begin), soak.PlannedEnd.Sub(soak.Begin))
	line := fmt.Sprintf("%-9s %s  %s of %s   evidence %s", soak.Unit, tape(soak, at, marks),
		inWords(gone), inWords(soak.PlannedEnd.Sub(soak.Begin)), percent(soak.EvidenceRatio))
	if soak.Worst < 0 {
		return line
	}
	worst := soak.Checks[soak.Worst]
	switch {
	case worst.State == checks.Settling:
		return line + "   settling"
	case worst.State == checks.Within && worst.ShareRatio != nil:
		return fmt.Sprintf("%s   worst: %s %.2f of its band", line, checkName(worst), *worst.ShareRatio)
	default:
		return fmt.Sprintf("%s   %s: %s %s", line, worst.State, checkName(worst), worst.Text)
	}
}

// checkName is a check's test point, and its measure where the point has several.
func checkName(c page.CheckView) string {
	return c.TestPoint + " " + c.Measure
}

// percent writes a share with as many digits as matter near the whole.
func percent(ratio *float64) string {
	if ratio == nil {
		return checks.NotKnown
	}
	if *ratio >= 1 {
		return "100 %"
	}
	// Rounded down: what is not whole must not be shown as 100.0 %.
	return fmt.Sprintf("%.1f %%", math.Floor(*ratio*1000)/10)
}
