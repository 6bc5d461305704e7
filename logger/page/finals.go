package page

import (
	"time"

	"soakline/checks"
	"soakline/logger"
)

// FinalView is how a final test stands.
type FinalView struct {
	Final   int64      `json:"final"`
	Unit    string     `json:"unit"`
	Console string     `json:"console"`
	Place   string     `json:"place"`
	Sheet   string     `json:"sheet"`
	SheetID string     `json:"sheet_sha256"`
	Round   string     `json:"round"` // the label of the round that has its records
	Begin   time.Time  `json:"begin"`
	End     *time.Time `json:"end"` // null while it is under way
	GivenUp string     `json:"given_up,omitempty"`
	// Decision says the decision rule in words.
	Decision string `json:"decision"`
	// Outcome is the verdict that there would be if it ended now, or that there was.
	Outcome checks.Outcome  `json:"outcome"`
	Steps   []FinalStepView `json:"steps"`
	// Due are the names of the steps that can be taken next, in order; empty when the
	// test can end.
	Due         []string              `json:"due"`
	Reasons     []FinalReasonView     `json:"reasons"`
	Instruments []FinalInstrumentView `json:"instruments"`
}

// FinalStepView is one step: what is to be done, and what was found.
type FinalStepView struct {
	Step        string          `json:"step"`
	Kind        checks.StepKind `json:"kind"`
	About       string          `json:"about,omitempty"`
	Connect     string          `json:"connect,omitempty"`
	Caution     string          `json:"caution,omitempty"`
	After       []string        `json:"after"`
	TestPoint   string          `json:"test_point,omitempty"`
	Question    string          `json:"question,omitempty"`
	Sense       checks.Sense    `json:"sense,omitempty"`
	WaitS       float64         `json:"wait_s,omitempty"`
	NeedsPerson bool            `json:"needs_person"`
	// Act is empty where nothing was done yet; Taken is how many times it was taken.
	Act     checks.StepAct `json:"act,omitempty"`
	Taken   int            `json:"taken"`
	At      *time.Time     `json:"at"`
	Outcome checks.Outcome `json:"outcome"`
	// Said is what a step without figures found, in words.
	Said    string            `json:"said,omitempty"`
	Figures []FinalFigureView `json:"figures"`
	Remarks []string          `json:"remarks"`
	Reasons []FinalReasonView `json:"reasons"`
}

// FinalFigureView is a figure of a step, in the unit named; the worst of its repeats.
// What is not known is null.
type FinalFigureView struct {
	TestPoint  string     `json:"test_point"`
	Measure    string     `json:"measure"`
	Unit       string     `json:"unit"`
	Instrument string     `json:"instrument,omitempty"`
	At         *time.Time `json:"at"`
	Value      *float64   `json:"value"`
	Figure     *float64   `json:"figure"`
	U          *float64   `json:"u"`
	Low        *float64   `json:"low"`
	High       *float64   `json:"high"`
	Nominal    *float64   `json:"nominal"`
	// AcceptLow and AcceptHigh are the limit less the guard band.
	AcceptLow  *float64       `json:"accept_low"`
	AcceptHigh *float64       `json:"accept_high"`
	Source     string         `json:"source"`
	State      checks.State   `json:"state"`
	Outcome    checks.Outcome `json:"outcome"`
	// ConformityRatio is the chance that it truly keeps to the limit.
	ConformityRatio *float64 `json:"conformity_ratio"`
	Repeats         int      `json:"repeats"`
	Text            string   `json:"text"`
	Bracket         string   `json:"bracket"`
}

// FinalReasonView is why a step does not pass, and what to look for.
type FinalReasonView struct {
	Kind   checks.StepReasonKind `json:"kind"`
	Step   string                `json:"step,omitempty"`
	Text   string                `json:"text"`
	Causes []string              `json:"causes"`
}

// FinalInstrumentView is an instrument as it was from Since on.
type FinalInstrumentView struct {
	Name           string    `json:"name"`
	Identity       string    `json:"identity"`
	Calibrated     string    `json:"calibrated,omitempty"`
	CalibrationDue string    `json:"calibration_due,omitempty"`
	Since          time.Time `json:"since"`
}

// ViewFinal puts a final test into the form of the API.
func ViewFinal(s logger.FinalStatus) FinalView {
	s.Verdict = s.Verdict.In(time.Local, s.Soaks...)
	f := s.Final
	view := FinalView{Final: int64(f.ID), Unit: string(f.Unit), Console: string(f.Console), Place: f.Place, Sheet: f.Sheet.Name,
		SheetID: s.Verdict.SheetHash, Round: f.RoundLabel, Begin: f.Begin, End: moment(f.End), GivenUp: f.GivenUp,
		Decision: s.Sheet.Final.Decision.String(), Outcome: s.Verdict.Outcome, Steps: []FinalStepView{}, Due: []string{},
		Reasons: viewReasons(s.Verdict.Reasons), Instruments: []FinalInstrumentView{}}
	for _, due := range s.Due {
		view.Due = append(view.Due, string(due.Name))
	}
	for i, step := range s.Sheet.Final.Steps {
		view.Steps = append(view.Steps, viewStep(s, step, s.Verdict.Steps[i]))
	}
	for _, i := range f.Instruments {
		view.Instruments = append(view.Instruments, FinalInstrumentView{Name: i.Name, Identity: i.Identity, Calibrated: day(i.Calibrated),
			CalibrationDue: day(i.CalibrationDue), Since: i.Since})
	}
	return view
}

// day is a day as people write it; empty where there is none.
func day(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.UTC().Format(time.DateOnly)
}

func viewStep(s logger.FinalStatus, step checks.FinalStep, v checks.StepVerdict) FinalStepView {
	view := FinalStepView{Step: string(step.Name), Kind: step.Kind, TestPoint: string(step.TestPoint), Question: step.Question, Sense: step.Sense,
		WaitS: step.Wait.Seconds(), NeedsPerson: step.NeedsPerson(), After: []string{}, Act: v.Act, Taken: v.Taken, At: moment(v.At),
		Outcome: v.Outcome, Said: v.Said, Figures: []FinalFigureView{}, Remarks: []string{}, Reasons: viewReasons(v.Reasons)}
	view.About, view.Connect, view.Caution = s.Sheet.FinalTexts(step)
	for _, before := range step.After {
		view.After = append(view.After, string(before))
	}
	for _, f := range v.Figures {
		view.Figures = append(view.Figures, viewFinalFigure(f))
	}
	for _, result := range s.Final.Results {
		if result.Step == step.Name {
			view.Remarks = append([]string{}, result.Remarks...) // those of the latest
		}
	}
	return view
}

func viewFinalFigure(f checks.FinalFigure) FinalFigureView {
	view := FinalFigureView{TestPoint: string(f.Check.TestPoint), Measure: string(f.Check.Measure), Unit: f.Check.Measure.Unit().Symbol,
		Instrument: f.Instrument, At: moment(f.At), Value: number(f.Value), Figure: number(f.Figure), U: number(f.U), Low: number(f.Limit.Low),
		High: number(f.Limit.High), Nominal: number(f.Limit.Nominal), Source: f.Limit.Source, State: f.State, Outcome: f.Outcome,
		ConformityRatio: number(f.Probability), Repeats: f.Repeats, Text: f.Text(), Bracket: f.Bracket().Text()}
	if low, high, err := f.Limit.AcceptanceInterval(f.U); err == nil {
		view.AcceptLow, view.AcceptHigh = number(low), number(high)
	}
	return view
}

func viewReasons(reasons []checks.StepReason) []FinalReasonView {
	views := []FinalReasonView{}
	for _, r := range reasons {
		views = append(views, FinalReasonView{Kind: r.Kind, Step: string(r.Step), Text: r.Text, Causes: append([]string{}, r.Causes...)})
	}
	return views
}
