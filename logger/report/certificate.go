package report

import (
	"time"

	"soakline/checks"
	"soakline/logger/book"
)

// Certificate is all that is said of a unit when it leaves: the verdict, what it
// rests on, and what the paper cannot say. Every format is written from it; the
// figures stand in it as numbers and as the text that every screen prints.
type Certificate struct {
	Unit    string         `json:"unit"`
	Console string         `json:"console"`
	Bench   string         `json:"bench"`
	Outcome checks.Outcome `json:"outcome"`
	// Given is when the verdict was given, Written when this paper was.
	Given   time.Time `json:"given"`
	Written time.Time `json:"written"`
	Program string    `json:"program"`
	Sheet   SheetName `json:"sheet"`
	// Final is nil where the verdict is on a soak alone, Soak where the final test
	// relies on none.
	Final *FinalPart `json:"final_test"`
	Soak  *SoakPart  `json:"soak"`
	// Reasons are sentences, the most important first; empty for a pass.
	Reasons []string `json:"reasons"`
	// Remarks are what a reader should know besides.
	Remarks     []string         `json:"remarks"`
	Checks      []CheckPart      `json:"checks"`
	Instruments []InstrumentPart `json:"instruments"`
	Changes     *ChangesPart     `json:"changes"`
	Lines       []LinePart       `json:"video_lines"`
	Spectra     []SpectrumPart   `json:"spectra"`
	Capacitors  []CapacitorPart  `json:"capacitors"`
	Notes       []NotePart       `json:"notes"`
	Chain       ChainPart        `json:"chain"`
	// Identity tells this record from all others; the label's code holds it.
	Identity string `json:"identity"`
	// Cautions are those of the sheet's test points; Statement says what no figure
	// here says.
	Cautions  []CautionPart `json:"cautions"`
	Statement []string      `json:"statement"`

	// zone is the bench's clock.
	zone *time.Location
}

// SheetName names a test sheet and the SHA-256 of its text, in hex.
type SheetName struct {
	Name string `json:"name"`
	Hash string `json:"sha256"`
}

// SoakPart is the soak that was judged.
type SoakPart struct {
	Number        int64          `json:"soak"`
	Place         string         `json:"place"`
	Outcome       checks.Outcome `json:"outcome"`
	Begin         time.Time      `json:"begin"`
	End           time.Time      `json:"end"`
	PlannedS      float64        `json:"planned_s"`
	EvidenceRatio checks.Number  `json:"evidence_ratio"`
	// Stopped says why it was stopped before its time.
	Stopped string `json:"stopped,omitempty"`
}

// CheckPart is one check over the soak. Figures are in the unit named; those that
// are not known are null.
type CheckPart struct {
	TestPoint string         `json:"test_point"`
	About     string         `json:"about,omitempty"`
	Measure   string         `json:"measure"`
	Unit      string         `json:"unit"`
	Outcome   checks.Outcome `json:"outcome"`
	Limit     LimitPart      `json:"limit"`
	Low       FigurePart     `json:"low"`
	Mean      FigurePart     `json:"mean"`
	High      FigurePart     `json:"high"`
	Readings  int            `json:"readings"`
	// EvidenceRatio is the share of the soak that readings cover, and LongestGapS
	// the longest time without one.
	EvidenceRatio checks.Number `json:"evidence_ratio"`
	LongestGapS   float64       `json:"longest_gap_s"`
	// Outside and Borderline count excursions, of which the worst are listed.
	Outside    int             `json:"outside"`
	Borderline int             `json:"borderline"`
	Excursions []ExcursionPart `json:"excursions"`
	Gaps       []GapPart       `json:"gaps"`
	Envelope   []EnvelopePart  `json:"envelope"`

	bracket checks.Bracket
	plot    SoakPlot
}

// FigurePart is a figure with the text that every screen prints.
type FigurePart struct {
	Value checks.Number `json:"value"`
	Text  string        `json:"text"`
}

// LimitPart is a limit; an end that is open is null.
type LimitPart struct {
	Low     checks.Number       `json:"low"`
	Nominal checks.Number       `json:"nominal"`
	High    checks.Number       `json:"high"`
	Rule    checks.DecisionRule `json:"rule"`
	Source  string              `json:"source"`
	Text    string              `json:"text"`
}

// ExcursionPart is an interval outside; To is null while it lasts.
type ExcursionPart struct {
	State checks.State  `json:"state"`
	Edge  checks.Edge   `json:"edge"`
	From  time.Time     `json:"from"`
	To    *time.Time    `json:"to"`
	Worst FigurePart    `json:"worst"`
	U     checks.Number `json:"u"`
}

// GapPart is an interval without a fresh reading.
type GapPart struct {
	From  time.Time `json:"from"`
	To    time.Time `json:"to"`
	Cause string    `json:"cause"`
}

// EnvelopePart is the lowest and the highest reading of a short time.
type EnvelopePart struct {
	At   time.Time     `json:"at"`
	Low  checks.Number `json:"low"`
	High checks.Number `json:"high"`
}

// InstrumentPart is an instrument as it answered *IDN?.
type InstrumentPart struct {
	Name     string    `json:"name"`
	Identity string    `json:"identity"`
	Port     string    `json:"port"`
	Since    time.Time `json:"since"`
	// Calibrated and CalibrationDue are days; empty where nobody gave them. AsOfToday
	// tells that the book did not keep them: they are the bench's of today.
	Calibrated     string `json:"calibrated,omitempty"`
	CalibrationDue string `json:"calibration_due,omitempty"`
	AsOfToday      bool   `json:"calibration_as_of_today,omitempty"`
}

// ChangesPart sets the unit's first round beside its last.
type ChangesPart struct {
	Before      string       `json:"before"`
	BeforeBegin time.Time    `json:"before_begin"`
	After       string       `json:"after"`
	AfterBegin  time.Time    `json:"after_begin"`
	Rows        []ChangePart `json:"rows"`
}

// ChangePart is one figure before and after.
type ChangePart struct {
	TestPoint string        `json:"test_point"`
	Measure   string        `json:"measure"`
	Unit      string        `json:"unit"`
	Before    FigurePart    `json:"before"`
	After     FigurePart    `json:"after"`
	Change    checks.Number `json:"change"`
	ChangeU   checks.Number `json:"change_u"`
	Text      string        `json:"text"`
	Meaning   string        `json:"meaning"`
}

// LinePart is a plot of video lines laid over one another.
type LinePart struct {
	Title  string   `json:"title"`
	Labels []string `json:"labels"`

	plot LinePlot
}

// NotePart is a remark about the unit.
type NotePart struct {
	At   time.Time `json:"at"`
	Text string    `json:"text"`
}

// ChainPart is where in the book's hash chain the verdict stands.
type ChainPart struct {
	Position int64  `json:"position"`
	Hash     string `json:"hash"`
	Origin   string `json:"origin,omitempty"`
}

// Text is the position and as much of the hash as a person compares.
func (c ChainPart) Text() string { return chainText(c.Position, c.Hash) }

func viewChain(l book.ChainLink) ChainPart {
	return ChainPart{Position: l.Position, Hash: l.Hash, Origin: l.Origin}
}

// CautionPart is what is shown before hands go near a test point.
type CautionPart struct {
	TestPoint string `json:"test_point"`
	Text      string `json:"text"`
}
