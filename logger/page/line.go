package page

import (
	"fmt"
	"math"
	"net/http"
	"reflect"
	"strconv"
	"strings"
	"time"

	"soakline/checks"
	"soakline/checks/capability"
	"soakline/device"
	"soakline/logger"
)

// LineFiguresView is how a line of units has fared. Shares are of 1; an interval is a pair
// of figures at the confidence named; what cannot be said is null.
type LineFiguresView struct {
	Since           *time.Time    `json:"since"`
	Until           time.Time     `json:"until"`
	ConfidenceRatio float64       `json:"confidence_ratio"`
	Units           int           `json:"units"`
	Passed          int           `json:"passed_first_time"`
	Failed          int           `json:"failed_first_time"`
	Undecided       int           `json:"undecided_first_time"`
	PassedLater     int           `json:"passed_later"`
	YieldRatio      *float64      `json:"yield_ratio"`
	YieldInterval   *IntervalView `json:"yield_interval"`
	IntervalBy      string        `json:"yield_interval_by"`
	RolledRatio     *float64      `json:"rolled_yield_ratio"`
	Fails           []FailView    `json:"fails"`
	Diagnoses       []FailView    `json:"diagnoses"`
	Soaks           int           `json:"soaks"`
	SoakedUnits     int           `json:"soaked_units"`
	SoakS           float64       `json:"soak_s"`
	MedianSoakS     float64       `json:"median_soak_per_unit_s"`
	Spreads         []SpreadView  `json:"spreads"`
	Returned        []ReturnView  `json:"returned"`
}

// yieldIntervalBy names the interval of a yield.
const yieldIntervalBy = "Wilson score"

// IntervalView is a confidence interval.
type IntervalView struct {
	Low  float64 `json:"low"`
	High float64 `json:"high"`
}

// FailView is in how many units something failed.
type FailView struct {
	Name  string `json:"name"`
	Units int    `json:"units"`
}

// SpreadView is how one check lies over the units, in the unit named.
type SpreadView struct {
	Console     string        `json:"console"`
	TestPoint   string        `json:"test_point"`
	Measure     string        `json:"measure"`
	Unit        string        `json:"unit"`
	Sheet       string        `json:"sheet"`
	Units       int           `json:"units"`
	Mean        *float64      `json:"mean"`
	SD          *float64      `json:"sd"`
	Lowest      *float64      `json:"lowest"`
	Highest     *float64      `json:"highest"`
	Low         *float64      `json:"low"`
	High        *float64      `json:"high"`
	Cp          *float64      `json:"cp"`
	CpInterval  *IntervalView `json:"cp_interval"`
	Cpk         *float64      `json:"cpk"`
	CpkInterval *IntervalView `json:"cpk_interval"`
	// MeanText and SDText are the figures as every screen prints them.
	MeanText string `json:"mean_text"`
	SDText   string `json:"sd_text"`
	// Suggested is a limit from the good units' spread, as lines for a sheet; empty
	// for too few of them. It is a proposal that changes nothing.
	Suggested string `json:"suggested_yaml,omitempty"`
}

// ReturnView is a unit that had passed and was tested again.
type ReturnView struct {
	Unit    string         `json:"unit"`
	Console string         `json:"console"`
	Passed  time.Time      `json:"passed"`
	Again   time.Time      `json:"again"`
	Outcome checks.Outcome `json:"outcome,omitempty"`
}

func (s *Server) lineRoutes() []route {
	return []route{get("/api/v1/line", "Gives the figures of the line: yield, fails, spread and capability, time on soak, units that came back, suggested limits.",
		s.getLine, parameter{name: "since", about: "from when on: 90d, 12h, 2026-09-01 or a moment as RFC 3339 writes it; if not given, all", kind: reflect.String})}
}

func (s *Server) getLine(r *http.Request) (LineFiguresView, error) {
	now := time.Now()
	since, err := SinceTime(r.URL.Query().Get("since"), now)
	if err != nil {
		return LineFiguresView{}, refusal(http.StatusUnprocessableEntity, "since: %v", err)
	}
	line, err := logger.LineOf(r.Context(), s.bench.Book(), since, now, s.bench.ParseSheet)
	return ViewLine(line), err
}

// SinceTime reads from when on something counts: how long ago (90d, 12h, 30m), a
// day, or a moment as RFC 3339 writes it. An empty text is the zero time.
func SinceTime(text string, now time.Time) (time.Time, error) {
	if text == "" {
		return time.Time{}, nil
	}
	if days, ok := strings.CutSuffix(text, "d"); ok {
		if n, err := strconv.ParseUint(days, 10, 16); err == nil {
			return now.AddDate(0, 0, -int(n)), nil // #nosec G115 -- 16 bits
		}
	}
	if ago, err := time.ParseDuration(text); err == nil && ago >= 0 {
		return now.Add(-ago), nil
	}
	for _, layout := range []string{time.DateOnly, time.RFC3339Nano} {
		if at, err := time.ParseInLocation(layout, text, now.Location()); err == nil {
			return at, nil
		}
	}
	return time.Time{}, fmt.Errorf("%q: give how long ago as 90d or 12h, a day as 2026-09-01, or a moment as 2026-09-01T14:00:00Z", text)
}

// ViewLine puts a line's figures into the form of the API.
func ViewLine(l logger.Line) LineFiguresView {
	view := LineFiguresView{Since: moment(l.Since), Until: l.Until, ConfidenceRatio: logger.LineConfidence, Units: l.Units, Passed: l.Passed, Failed: l.Failed,
		Undecided: l.Undecided, PassedLater: l.PassedLater, YieldRatio: number(l.Yield), YieldInterval: viewInterval(l.YieldInterval), IntervalBy: yieldIntervalBy,
		RolledRatio: number(l.RolledYield), Fails: viewFails(l.Fails), Diagnoses: viewFails(l.Diagnoses), Soaks: l.Soaks.Soaks, SoakedUnits: l.Soaks.Units,
		SoakS: l.Soaks.Total.Seconds(), MedianSoakS: l.Soaks.MedianPerUnit.Seconds(), Spreads: []SpreadView{}, Returned: []ReturnView{}}
	for _, s := range l.Spreads {
		view.Spreads = append(view.Spreads, viewSpread(s))
	}
	for _, r := range l.Returned {
		view.Returned = append(view.Returned, ReturnView{Unit: string(r.Unit), Console: string(r.Console), Passed: r.Passed, Again: r.Again, Outcome: r.Outcome})
	}
	return view
}

func viewInterval(i capability.Interval) *IntervalView {
	if math.IsNaN(i.Low) || math.IsNaN(i.High) {
		return nil
	}
	return &IntervalView{i.Low, i.High}
}

func viewFails(fails []logger.FailCount) []FailView {
	views := []FailView{}
	for _, f := range fails {
		views = append(views, FailView(f))
	}
	return views
}

func viewSpread(s logger.Spread) SpreadView {
	unit := s.Check.Measure.Unit()
	return SpreadView{Console: string(s.Console), TestPoint: string(s.Check.TestPoint), Measure: string(s.Check.Measure), Unit: unit.Symbol, Sheet: s.Sheet,
		Units: s.N, Mean: number(s.Mean), SD: number(s.SD), Lowest: number(s.Indices.Low), Highest: number(s.Indices.High), Low: number(s.Limit.Low), High: number(s.Limit.High),
		Cp: number(s.Cp), CpInterval: viewInterval(s.CpInterval), Cpk: number(s.Cpk), CpkInterval: viewInterval(s.CpkInterval),
		MeanText: spreadText(s.Mean, s.SD, unit), SDText: checks.Figure(s.SD, 0, unit), Suggested: s.YAML()}
}

// spreadText prints a mean with the digits that its spread allows.
func spreadText(mean, sd float64, unit device.Unit) string {
	text, _, _ := strings.Cut(checks.Figure(mean, sd, unit), " ± ")
	return text
}
