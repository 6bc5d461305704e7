package page

import (
	"math"
	"time"

	"soakline/checks"
	"soakline/device"
	"soakline/logger"
)

// BenchView is how the bench stands, as JSON. A figure that is not known is null.
type BenchView struct {
	Bench string    `json:"bench"`
	At    time.Time `json:"at"`
	// Zone is the name of the time zone that the bench's clock shows; empty where
	// the host does not say.
	Zone        string           `json:"zone,omitempty"`
	Places      []string         `json:"places"`
	Consoles    []string         `json:"consoles"` // those that there are test sheets for
	Instruments []InstrumentView `json:"instruments"`
	Soaks       []SoakView       `json:"soaks"`
	Finished    []VerdictView    `json:"finished"`
	Book        BookView         `json:"book"`
}

// InstrumentView is how one instrument stands.
type InstrumentView struct {
	Name          string     `json:"name"`
	Up            bool       `json:"up"`
	Port          string     `json:"port,omitempty"`
	Identity      string     `json:"identity,omitempty"`
	Readings      int        `json:"readings"`
	Reopens       int        `json:"reopens"`
	LastReadingAt *time.Time `json:"last_reading_at"`
	Trouble       string     `json:"trouble,omitempty"`
}

// BookView is how the writing of the book fares.
type BookView struct {
	PendingReadings int               `json:"pending_readings"`
	WrittenReadings uint64            `json:"written_readings"`
	LostReadings    map[string]uint64 `json:"lost_readings"`
	LastCommit      *time.Time        `json:"last_commit"`
	Trouble         string            `json:"trouble,omitempty"`
}

// SoakView is how one soak stands.
type SoakView struct {
	Soak          int64          `json:"soak"`
	Unit          string         `json:"unit"`
	Console       string         `json:"console"`
	Place         string         `json:"place"`
	Sheet         string         `json:"sheet"`
	Begin         time.Time      `json:"begin"`
	PlannedEnd    time.Time      `json:"planned_end"`
	ProgressRatio float64        `json:"progress_ratio"`
	EvidenceRatio *float64       `json:"evidence_ratio"`
	SoFar         checks.Outcome `json:"so_far"`
	Checks        []CheckView    `json:"checks"`
	// Worst is the place in Checks of the one that stands worst; -1 if there is none.
	Worst int `json:"worst"`
	// Findings are those of the latest scope record of each test point.
	Findings map[string][]FindingView `json:"findings"`
}

// CheckView is how one check stands. Figures are in the unit named.
type CheckView struct {
	TestPoint  string       `json:"test_point"`
	Measure    string       `json:"measure"`
	Instrument string       `json:"instrument"`
	Unit       string       `json:"unit"`
	State      checks.State `json:"state"`
	Since      time.Time    `json:"since"`
	At         *time.Time   `json:"at"`
	Value      *float64     `json:"value"`
	Figure     *float64     `json:"figure"`
	U          *float64     `json:"u"`
	Low        *float64     `json:"low"`
	High       *float64     `json:"high"`
	Nominal    *float64     `json:"nominal"`
	// GuardLow and GuardHigh are what the guard bands leave of the limit, TrailLow
	// and TrailHigh where the figure has been.
	GuardLow  *float64 `json:"guard_low"`
	GuardHigh *float64 `json:"guard_high"`
	TrailLow  *float64 `json:"trail_low"`
	TrailHigh *float64 `json:"trail_high"`
	Text      string   `json:"text"`    // the figure as every screen prints it
	Bracket   string   `json:"bracket"` // its place within the limits, drawn
	// ShareRatio is how much of the way from the middle of the limit to its edge
	// the figure is.
	ShareRatio *float64        `json:"share_ratio"`
	Readings   int             `json:"readings"`
	Refused    string          `json:"refused,omitempty"`
	Excursions []ExcursionView `json:"excursions"`
	Gaps       []GapView       `json:"gaps"`
	Drift      *DriftView      `json:"drift,omitempty"`
}

// GapView is an interval without a fresh reading.
type GapView struct {
	From  time.Time `json:"from"`
	To    time.Time `json:"to"`
	Cause string    `json:"cause"`
}

// ExcursionView is one excursion; To is null while it lasts.
type ExcursionView struct {
	TestPoint string       `json:"test_point"`
	Measure   string       `json:"measure"`
	State     checks.State `json:"state"`
	Edge      checks.Edge  `json:"edge"`
	From      time.Time    `json:"from"`
	To        *time.Time   `json:"to"`
	Worst     float64      `json:"worst"`
	WorstAt   time.Time    `json:"worst_at"`
	WorstU    float64      `json:"worst_u"`
	Limit     float64      `json:"limit"`
	Text      string       `json:"text"` // the worst figure as every screen prints it
}

// VerdictView is a verdict in short.
type VerdictView struct {
	Soak          int64          `json:"soak"`
	Unit          string         `json:"unit"`
	Console       string         `json:"console"`
	Place         string         `json:"place"`
	Outcome       checks.Outcome `json:"outcome"`
	Sheet         string         `json:"sheet"`
	SheetHash     string         `json:"sheet_sha256"`
	Begin         time.Time      `json:"begin"`
	End           time.Time      `json:"end"`
	PlannedS      float64        `json:"planned_s"`
	EvidenceRatio *float64       `json:"evidence_ratio"`
	// Reasons are sentences, the most important first; times as the bench's clock
	// shows them.
	Reasons    []string        `json:"reasons"`
	Excursions []ExcursionView `json:"excursions"`
}

// View puts a snapshot into the form of the API.
func View(s logger.Snapshot) BenchView {
	view := BenchView{Bench: s.Bench, At: s.At, Zone: benchZone, Places: append([]string{}, s.Places...), Consoles: append([]string{}, s.Consoles...), Instruments: []InstrumentView{}, Soaks: []SoakView{}, Finished: []VerdictView{},
		Book: BookView{PendingReadings: s.Book.Pending, WrittenReadings: s.Book.Written, LostReadings: s.Book.Lost, LastCommit: moment(s.Book.LastCommit)}}
	if s.Book.Err != nil {
		view.Book.Trouble = s.Book.Err.Error()
	}
	for _, status := range s.Instruments {
		view.Instruments = append(view.Instruments, instrumentView(status))
	}
	for _, soak := range s.Soaks {
		view.Soaks = append(view.Soaks, soakView(soak))
	}
	for _, finished := range s.Finished {
		view.Finished = append(view.Finished, viewFinished(finished))
	}
	return view
}

func instrumentView(s device.Status) InstrumentView {
	return InstrumentView{Name: s.Instrument, Up: s.Up, Port: s.Port, Identity: s.Identity.Text, Readings: s.Readings,
		Reopens: s.Reopens, LastReadingAt: moment(s.LastReadingAt), Trouble: s.Trouble}
}

func soakView(s logger.SoakStatus) SoakView {
	view := SoakView{Soak: int64(s.ID), Unit: string(s.Unit), Console: string(s.Console), Place: s.Place, Sheet: s.Sheet,
		Begin: s.Begin, PlannedEnd: s.End, ProgressRatio: s.Progress, EvidenceRatio: number(s.Evidence), SoFar: s.SoFar,
		Checks: []CheckView{}, Worst: -1, Findings: map[string][]FindingView{}}
	for point, findings := range s.Findings {
		view.Findings[string(point)] = ViewFindings(findings)
	}
	worst, any := s.Worst()
	for i, check := range s.Checks {
		if any && check.Check == worst.Check {
			view.Worst = i
		}
		view.Checks = append(view.Checks, checkView(check))
	}
	return view
}

func checkView(c logger.CheckStatus) CheckView {
	view := CheckView{TestPoint: string(c.Check.TestPoint), Measure: string(c.Check.Measure), Instrument: c.Instrument,
		Unit: c.Check.Measure.Unit().Symbol, State: c.State, Since: c.Since, At: moment(c.At),
		Value: number(c.Value), Figure: number(c.Figure), U: number(c.U), Low: number(c.Limit.Low), High: number(c.Limit.High),
		Text: c.FigureText(), Bracket: c.Bracket().Text(), ShareRatio: number(c.Limit.Share(c.Figure)),
		Readings: c.Readings, Refused: c.Refused, Excursions: []ExcursionView{}, Gaps: []GapView{}, Drift: driftView(c.Drift)}
	view.GuardLow, view.GuardHigh = accepted(c)
	view.TrailLow, view.TrailHigh, view.Nominal = number(c.Low), number(c.High), number(c.Limit.Nominal)
	for _, excursion := range c.Excursions {
		view.Excursions = append(view.Excursions, viewExcursion(excursion))
	}
	for _, gap := range c.Gaps {
		view.Gaps = append(view.Gaps, GapView{From: gap.From, To: gap.To, Cause: gap.Cause})
	}
	return view
}

// accepted is what the guard bands leave of a check's limit; nothing where they
// leave none of it.
func accepted(c logger.CheckStatus) (low, high *float64) {
	from, to, err := c.Limit.AcceptanceInterval(c.U)
	if err != nil {
		return nil, nil
	}
	return number(from), number(to)
}

func viewExcursion(e checks.Excursion) ExcursionView {
	return ExcursionView{TestPoint: string(e.Check.TestPoint), Measure: string(e.Check.Measure), State: e.State, Edge: e.Edge,
		From: e.From, To: moment(e.To), Worst: e.Worst, WorstAt: e.WorstAt, WorstU: e.WorstU, Limit: e.Limit,
		Text: checks.Figure(e.Worst, e.WorstU, e.Check.Measure.Unit())}
}

func viewFinished(finished logger.FinishedSoak) VerdictView {
	view := ViewVerdict(finished.Verdict)
	view.Soak, view.Console, view.Place = int64(finished.ID), string(finished.Console), finished.Place
	return view
}

// ViewVerdict puts a verdict into the form of the API.
func ViewVerdict(v checks.Verdict) VerdictView {
	view := VerdictView{Unit: string(v.Unit), Outcome: v.Outcome, Sheet: v.SheetName, SheetHash: v.SheetHash,
		Begin: v.Begin, End: v.End, PlannedS: v.Planned.Seconds(), EvidenceRatio: number(v.Evidence),
		Reasons: v.Sentences(time.Local), Excursions: []ExcursionView{}}
	if view.Reasons == nil {
		view.Reasons = []string{}
	}
	for _, check := range v.Checks {
		for _, excursion := range check.Excursions {
			view.Excursions = append(view.Excursions, viewExcursion(excursion))
		}
	}
	return view
}

// number is a figure as JSON has it: null where it is not known or has no bound.
func number(x float64) *float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	return &x
}

// moment is a time as JSON has it: null where there is none.
func moment(t time.Time) *time.Time {
	if t.IsZero() {
		return nil
	}
	return &t
}
