package report

import (
	"strings"
	"time"

	"soakline/checks"
	"soakline/logger/book"
)

// FinalPart is the final test that was judged.
type FinalPart struct {
	Number int64      `json:"final"`
	Place  string     `json:"place"`
	Begin  time.Time  `json:"begin"`
	End    *time.Time `json:"end"`
	// GivenUp says why it ended without all its steps.
	GivenUp string              `json:"given_up,omitempty"`
	Rule    checks.DecisionRule `json:"rule"`
	Steps   []StepPart          `json:"steps"`
}

// StepPart is one step of a final test.
type StepPart struct {
	Step    string         `json:"step"`
	Kind    string         `json:"kind"`
	Outcome checks.Outcome `json:"outcome"`
	// Said is what a step without figures found, Taken how many times it was taken.
	Said    string        `json:"said,omitempty"`
	Taken   int           `json:"taken"`
	Figures []FinalFigure `json:"figures"`
	Reasons []ReasonPart  `json:"reasons"`
}

// FinalFigure is a figure of a final test and how it stands to its limit.
type FinalFigure struct {
	TestPoint string        `json:"test_point"`
	Measure   string        `json:"measure"`
	Unit      string        `json:"unit"`
	Figure    FigurePart    `json:"figure"`
	U         checks.Number `json:"u"`
	Limit     LimitPart     `json:"limit"`
	State     checks.State  `json:"state"`
	// Probability is the chance that the figure truly keeps to its limit.
	Probability checks.Number  `json:"conformance_probability"`
	Instrument  string         `json:"instrument"`
	Outcome     checks.Outcome `json:"outcome"`

	bracket checks.Bracket
}

// ReasonPart is why a step does not pass, and what to look for.
type ReasonPart struct {
	Text   string   `json:"text"`
	Causes []string `json:"causes"`
}

func finalPart(kept book.Final, v book.FinalVerdict) *FinalPart {
	part := &FinalPart{Number: int64(kept.ID), Place: kept.Place, Begin: v.Begin, End: moment(v.End), GivenUp: kept.GivenUp, Rule: v.Decision.Rule, Steps: []StepPart{}}
	for _, step := range v.Steps {
		s := StepPart{Step: string(step.Step), Kind: string(step.Kind), Outcome: step.Outcome, Said: step.Said, Taken: step.Taken, Figures: []FinalFigure{}, Reasons: []ReasonPart{}}
		for _, f := range step.Figures {
			unit := f.Check.Measure.Unit()
			s.Figures = append(s.Figures, FinalFigure{TestPoint: string(f.Check.TestPoint), Measure: string(f.Check.Measure), Unit: unit.Symbol,
				Figure: FigurePart{checks.Number(f.Figure), f.Text()}, U: checks.Number(f.U), Limit: limitPart(f.Limit, unit), State: f.State,
				Probability: checks.Number(f.Probability), Instrument: f.Instrument, Outcome: f.Outcome, bracket: f.Bracket()})
		}
		for _, r := range step.Reasons {
			s.Reasons = append(s.Reasons, ReasonPart{Text: r.Text, Causes: append([]string{}, r.Causes...)})
		}
		part.Steps = append(part.Steps, s)
	}
	return part
}

// reasonText is a reason with what to look for.
func reasonText(r checks.StepReason) string {
	text := r.Text
	if r.Step != "" && !strings.HasPrefix(text, string(r.Step)) {
		text = string(r.Step) + ": " + text
	}
	if len(r.Causes) > 0 {
		if !strings.HasSuffix(text, ".") {
			text += "."
		}
		text += " Look for: " + strings.Join(r.Causes, "; ") + "."
	}
	return text
}

// instruments are those of the final test and of the soak, with their calibration
// dates: as the final test kept them, else as the bench's file has them today.
func (g gatherer) instruments(about subject) []InstrumentPart {
	parts := []InstrumentPart{}
	seen := map[[2]string]bool{}
	if about.final != nil {
		for _, i := range about.final.Instruments {
			seen[[2]string{i.Name, i.Identity}] = true
			parts = append(parts, InstrumentPart{Name: i.Name, Identity: i.Identity, Port: i.Port, Since: i.Since,
				Calibrated: day(i.Calibrated), CalibrationDue: day(i.CalibrationDue)})
		}
	}
	if about.soak == nil {
		return parts
	}
	for _, i := range about.soak.Instruments {
		if seen[[2]string{i.Name, i.Identity}] {
			continue
		}
		part := InstrumentPart{Name: i.Name, Identity: i.Identity, Port: i.Port, Since: i.Since}
		for _, known := range g.options.Bench.Instruments {
			if known.Name == i.Name && !(known.Calibrated.IsZero() && known.CalibrationDue.IsZero()) {
				part.Calibrated, part.CalibrationDue, part.AsOfToday = day(known.Calibrated), day(known.CalibrationDue), true
			}
		}
		parts = append(parts, part)
	}
	return parts
}

// day is a calibration date as text; empty where nobody gave it.
func day(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.UTC().Format(time.DateOnly)
}
