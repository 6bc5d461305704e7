package main

import (
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/mattn/go-runewidth"

	"soakline/checks"
	"soakline/logger/page"
)

// finalScreen shows a final test as it goes.
type finalScreen struct {
	out   io.Writer
	shown string // the progress that stands on the line
}

func (s *finalScreen) fit(text string) string { return fitting(s.out)(text) }

// begun says which test it is and where it stands.
func (s *finalScreen) begun(view page.FinalView) {
	fmt.Fprintf(s.out, "final test %d of %s (%s) at place %s, sheet %s\n", view.Final, view.Unit, view.Console, view.Place, view.Sheet)
	fmt.Fprint(s.out, s.fit(paragraph("", "decision: "+view.Decision)))
	have := 0
	for _, step := range view.Steps {
		if step.Act != "" {
			have++
		}
	}
	if have > 0 {
		fmt.Fprintf(s.out, "it goes on: %d of %d steps have a result since %s\n", have, len(view.Steps), view.Begin.Local().Format(dayAndTime))
		for _, step := range view.Steps {
			if step.Act != "" {
				fmt.Fprintf(s.out, "  %-20s %s\n", step.Step, step.Outcome)
			}
		}
	}
}

// announce says which step comes, what to connect and what to beware of.
func (s *finalScreen) announce(view page.FinalView, step page.FinalStepView) {
	at := 0
	for i, other := range view.Steps {
		if other.Step == step.Step {
			at = i + 1
		}
	}
	title := fmt.Sprintf("step %d of %d   %s", at, len(view.Steps), step.Step)
	if step.About != "" {
		title += "   " + step.About
	}
	fmt.Fprintln(s.out)
	fmt.Fprintln(s.out, s.fit(title))
	if step.Connect != "" {
		fmt.Fprint(s.out, s.fit(paragraph("  ", "connect: "+step.Connect)))
	}
	if step.Caution != "" {
		fmt.Fprint(s.out, s.fit(paragraph("  ", "caution: "+step.Caution)))
	}
	if step.Kind == checks.StepDischarge {
		for _, text := range checks.StoredChargeCautions() {
			fmt.Fprint(s.out, s.fit(paragraph("    ", text)))
		}
	}
}

// progress shows on a terminal how a step goes, on one line.
func (s *finalScreen) progress(p page.StepProgressView) {
	if !onTerminal(s.out) || p.Text == s.shown {
		return
	}
	s.shown = p.Text
	line := runewidth.Truncate("  "+s.fit(p.Text), widthOf(s.out)-1, "…")
	fmt.Fprint(s.out, "\r\x1b[K"+line)
}

// progressDone takes the line away.
func (s *finalScreen) progressDone() {
	if s.shown != "" {
		fmt.Fprint(s.out, "\r\x1b[K")
	}
	s.shown = ""
}

// result shows what a step found and what comes of it.
func (s *finalScreen) result(step page.FinalStepView) {
	for _, f := range step.Figures {
		fmt.Fprintln(s.out, s.fit("  "+finalFigureLine(f)))
	}
	for _, remark := range step.Remarks {
		fmt.Fprint(s.out, s.fit(paragraph("    ", remark)))
	}
	word := string(step.Outcome)
	if step.Said != "" {
		word += "   " + step.Said
	}
	fmt.Fprint(s.out, s.fit(paragraph("  ", word)))
	s.reasons("    ", step.Reasons)
}

// reasons shows why, and what to look for; causes that several share once.
func (s *finalScreen) reasons(indent string, reasons []page.FinalReasonView) {
	var before string
	for i, r := range reasons {
		fmt.Fprint(s.out, s.fit(paragraph(indent, r.Text)))
		causes := strings.Join(r.Causes, "; ")
		last := i == len(reasons)-1 || strings.Join(reasons[i+1].Causes, "; ") != causes || reasons[i+1].Step != r.Step
		if causes != "" && last && causes != before {
			fmt.Fprint(s.out, s.fit(paragraph(indent+"  ", "look for: "+causes)))
			before = causes
		}
	}
}

// finalFigureLine is a figure on one line: name, figure, bracket, state, and how
// likely it keeps to its limit where that is in doubt.
func finalFigureLine(f page.FinalFigureView) string {
	state := string(f.State)
	if f.Value == nil {
		state = "not measured"
	}
	if p := f.ConformityRatio; p != nil && f.State != checks.Within {
		state += fmt.Sprintf("   %.1f %% likely to conform", 100**p)
	}
	return fmt.Sprintf("%-28s %-24s %s  %s", f.TestPoint+" "+f.Measure, f.Text, f.Bracket, state)
}

// stopped says that the test stands where it is.
func (s *finalScreen) stopped(view page.FinalView) {
	fmt.Fprintf(s.out, "\nstopped; final test %d of %s stands where it is: soakline final --unit %s goes on there\n", view.Final, view.Unit, view.Unit)
}

// verdict shows the end.
func (s *finalScreen) verdict(view page.FinalView) {
	took := ""
	if view.End != nil {
		took = "   " + inWords(view.End.Sub(view.Begin))
	}
	fmt.Fprintf(s.out, "\n%s\n", s.fit(fmt.Sprintf("%-9s  %s   %s   final test %d   sheet %s (sha256 %.12s)%s", strings.ToUpper(string(view.Outcome)), view.Unit,
		view.Console, view.Final, view.Sheet, view.SheetID, took)))
	s.reasons("           ", view.Reasons)
	for _, i := range view.Instruments {
		if due, err := time.Parse(time.DateOnly, i.CalibrationDue); err == nil && time.Until(due) < soonDue && time.Since(due) < 24*time.Hour {
			fmt.Fprintf(s.out, "           calibration of %s is due on %s\n", i.Name, i.CalibrationDue)
		}
	}
}

// soonDue is how long before a calibration is due it is told (common practice, no
// source).
const soonDue = 14 * 24 * time.Hour
