package page

import (
	"fmt"
	"net/http"
	"reflect"
	"time"

	"soakline/checks"
	"soakline/checks/drift"
	"soakline/checks/reservoir"
	"soakline/device"
	"soakline/logger"
)

// HistoryView is what the book knows of a unit over rounds, soaks and discharges.
type HistoryView struct {
	Unit    string       `json:"unit"`
	Console string       `json:"console"`
	Sheet   string       `json:"sheet"`
	Courses []CourseView `json:"courses"`
	Wear    []WearView   `json:"wear"`
}

// CourseView is one figure over time, in the unit named. Limits are null where the
// sheet has none that figures of different days can be held against.
type CourseView struct {
	TestPoint string              `json:"test_point"`
	Measure   string              `json:"measure"`
	Unit      string              `json:"unit"`
	Low       *float64            `json:"low"`
	High      *float64            `json:"high"`
	Source    string              `json:"source,omitempty"`
	Figures   []HistoryFigureView `json:"figures"`
	Trend     TrendView           `json:"trend"`
}

// HistoryFigureView is one figure: of a round, the mean of a soak's readings with
// the ends that they reached, or the capacitance by a discharge. U is one standard
// uncertainty.
type HistoryFigureView struct {
	At       time.Time          `json:"at"`
	Kind     logger.HistoryKind `json:"kind"`
	Round    string             `json:"round,omitempty"`
	Soak     int64              `json:"soak,omitempty"`
	Value    *float64           `json:"value"`
	U        *float64           `json:"u"`
	Low      *float64           `json:"low"`
	High     *float64           `json:"high"`
	Readings int64              `json:"readings"`
	Text     string             `json:"text"`
}

// TrendView is a trend over months. Outlook is "not known" with too few figures,
// else "no trend", "no limit on that side", "ahead" or "passed"; the times are set
// with the last two.
type TrendView struct {
	N                int        `json:"n"`
	PerMonth         *float64   `json:"per_month"`
	PerMonthLow      *float64   `json:"per_month_low"`
	PerMonthHigh     *float64   `json:"per_month_high"`
	TheilSenPerMonth *float64   `json:"theil_sen_per_month"`
	TheilSenLow      *float64   `json:"theil_sen_low"`
	TheilSenHigh     *float64   `json:"theil_sen_high"`
	MannKendallP     *float64   `json:"mann_kendall_p"`
	Outlook          string     `json:"outlook"`
	ReachedAt        *time.Time `json:"reached_at"`
	Earliest         *time.Time `json:"earliest"`
	Latest           *time.Time `json:"latest"`
	Text             string     `json:"text"`
}

// WearView is how a capacitor has changed; a figure that is not followed is null.
type WearView struct {
	TestPoint        string        `json:"test_point"`
	Source           string        `json:"source"`
	Thermometer      string        `json:"thermometer,omitempty"`
	ReferenceCelsius float64       `json:"reference_celsius"`
	Capacitance      *WornView     `json:"capacitance"`
	ESR              *WornView     `json:"esr"`
	Leakage          *WornView     `json:"leakage"`
	Findings         []FindingView `json:"findings"`
}

// WornView is one figure of a capacitor, at the reference temperature where the
// part's was logged beside. PerCelsius is the relative change for each degree that
// was taken out; null where none was.
type WornView struct {
	Measure    string          `json:"measure"`
	Unit       string          `json:"unit"`
	Limit      *float64        `json:"limit"`
	First      *float64        `json:"first"`
	Latest     *float64        `json:"latest"`
	PerCelsius *float64        `json:"per_celsius"`
	Points     []WornPointView `json:"points"`
	Trend      TrendView       `json:"trend"`
}

// WornPointView is one figure as it was compared.
type WornPointView struct {
	At      time.Time `json:"at"`
	Value   *float64  `json:"value"`
	Celsius *float64  `json:"celsius"`
}

func (s *Server) historyRoutes() []route {
	return []route{
		get("/api/v1/units/{unit}/history", "Shows a unit's figures over rounds, soaks and discharges, their trends, and the wear of its capacitors.", s.getHistory,
			parameter{name: "test_point", about: "only this test point", kind: reflect.String},
			parameter{name: "since", about: "only what was measured from this moment on (RFC 3339): a part was replaced then", kind: reflect.String}),
	}
}

func (s *Server) getHistory(r *http.Request) (HistoryView, error) {
	var since time.Time
	if text := r.URL.Query().Get("since"); text != "" {
		var err error
		if since, err = time.Parse(time.RFC3339Nano, text); err != nil {
			return HistoryView{}, refusal(http.StatusBadRequest, "since %q: give a moment as 2026-11-25T14:00:00Z", text)
		}
	}
	history, err := s.bench.History(r.Context(), unitIn(r), checks.TestPointName(r.URL.Query().Get("test_point")), since)
	if err != nil {
		return HistoryView{}, err
	}
	return ViewHistory(history), nil
}

// ViewHistory puts a history into the form of the API.
func ViewHistory(h logger.History) HistoryView {
	view := HistoryView{Unit: string(h.Unit.ID), Console: string(h.Unit.Console), Sheet: h.Sheet.Name, Courses: []CourseView{}, Wear: []WearView{}}
	for _, c := range h.Courses {
		view.Courses = append(view.Courses, viewCourse(c))
	}
	for _, w := range h.Wear {
		view.Wear = append(view.Wear, viewWear(w))
	}
	return view
}

func viewCourse(c logger.HistoryCourse) CourseView {
	unit := c.Check.Measure.Unit()
	view := CourseView{TestPoint: string(c.Check.TestPoint), Measure: string(c.Check.Measure), Unit: unit.Symbol,
		Figures: []HistoryFigureView{}, Trend: viewTrend(c.Trend, c.Text())}
	if c.Asked {
		view.Low, view.High, view.Source = number(c.Limit.Low), number(c.Limit.High), c.Limit.Source
	}
	for _, f := range c.Figures {
		view.Figures = append(view.Figures, HistoryFigureView{At: f.At, Kind: f.Kind, Round: f.Label, Soak: int64(f.Soak),
			Value: number(f.Value), U: number(f.U), Low: number(f.Low), High: number(f.High), Readings: f.Readings,
			Text: checks.Figure(f.Value, f.U, unit)})
	}
	return view
}

func viewTrend(t drift.MonthsTrend, text string) TrendView {
	return TrendView{N: t.N, PerMonth: number(t.PerMonth), PerMonthLow: number(t.PerMonthLow), PerMonthHigh: number(t.PerMonthHigh),
		TheilSenPerMonth: number(t.TheilSenPerMonth), TheilSenLow: number(t.TheilSenLow), TheilSenHigh: number(t.TheilSenHigh),
		MannKendallP: number(t.MannKendallP), Outlook: fmt.Sprint(t.Outlook),
		ReachedAt: moment(t.ReachedAt), Earliest: moment(t.Earliest), Latest: moment(t.Latter), Text: text}
}

func viewWear(w logger.PartWear) WearView {
	view := WearView{TestPoint: string(w.TestPoint), Source: w.Plan.Source, Thermometer: string(w.Plan.Thermometer),
		ReferenceCelsius: w.Plan.ReferenceCelsius, Findings: ViewFindings(w.Findings)}
	trends := []reservoir.Trend{w.Capacitance, w.ESR, w.Leakage}
	for i, into := range []**WornView{&view.Capacitance, &view.ESR, &view.Leakage} {
		if figure := w.Plan.Figures()[i]; figure.Limit != nil {
			*into = viewWorn(trends[i], figure.Measure)
		}
	}
	return view
}

func viewWorn(t reservoir.Trend, m device.Measure) *WornView {
	view := &WornView{Measure: string(m), Unit: m.Unit().Symbol, Limit: number(t.Limit), First: number(t.First), Latest: number(t.Latest),
		PerCelsius: number(t.PerCelsius), Points: []WornPointView{}, Trend: viewTrend(t.MonthsTrend, logger.MonthsText(t.MonthsTrend, t.Limit, m.Unit()))}
	for _, p := range t.Points {
		view.Points = append(view.Points, WornPointView{At: p.At, Value: number(p.Value), Celsius: number(p.Celsius)})
	}
	return view
}
