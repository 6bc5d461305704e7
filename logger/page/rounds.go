package page

import (
	"math"
	"net/http"
	"reflect"
	"time"

	"soakline/checks"
	"soakline/logger"
	"soakline/logger/book"
)

// RoundPlanView is what a round of a unit would read.
type RoundPlanView struct {
	Unit    string          `json:"unit"`
	Console string          `json:"console"`
	Place   string          `json:"place"`
	Sheet   string          `json:"sheet"`
	Steps   []RoundStepView `json:"steps"`
	// Cautions are to be read before hands go in; there are none where no test
	// point stores a charge.
	Cautions []string `json:"cautions"`
	// FinalStated tells whether the sheet states a final test, FinalTaken whether the
	// book has one of the unit, ended or not.
	FinalStated bool `json:"final_stated"`
	FinalTaken  bool `json:"final_taken"`
}

// RoundStepView is one test point of a round.
type RoundStepView struct {
	TestPoint   string `json:"test_point"`
	About       string `json:"about,omitempty"`
	Connect     string `json:"connect,omitempty"`
	Caution     string `json:"caution,omitempty"`
	Instrument  string `json:"instrument"`
	Channel     string `json:"channel,omitempty"`
	NeedsPerson bool   `json:"needs_person"`
	// Discharge tells whether its stored charge can be watched down.
	Discharge bool `json:"discharge"`
}

// RoundRequest asks for a round to begin; Trial and Candidate belong together.
type RoundRequest struct {
	Label     string   `json:"label"`
	Place     string   `json:"place,omitempty"`
	Trial     int64    `json:"trial,omitempty"`
	Candidate *float64 `json:"candidate,omitempty"`
}

// PointRequest asks for one test point of a round to be read.
type PointRequest struct {
	Place string `json:"place,omitempty"`
}

// RoundView is a round with its figures as they stand to its sheet.
type RoundView struct {
	Round     int64        `json:"round"`
	Unit      string       `json:"unit"`
	Console   string       `json:"console"`
	Label     string       `json:"label"`
	Sheet     string       `json:"sheet"`
	Begin     time.Time    `json:"begin"`
	End       *time.Time   `json:"end"`
	Trial     int64        `json:"trial,omitempty"`
	Candidate *float64     `json:"candidate,omitempty"`
	Figures   []FigureView `json:"figures"`
}

// FigureView is one figure of a round, in the unit named. What was not measured is
// null. Value is the reading and Figure what the limit applies to, each with one
// standard uncertainty.
type FigureView struct {
	TestPoint  string       `json:"test_point"`
	Measure    string       `json:"measure"`
	Unit       string       `json:"unit"`
	Instrument string       `json:"instrument,omitempty"`
	At         *time.Time   `json:"at"`
	Averaged   int          `json:"averaged"`
	Value      *float64     `json:"value"`
	U          *float64     `json:"u"`
	Figure     *float64     `json:"figure"`
	FigureU    *float64     `json:"figure_u"`
	Asked      bool         `json:"asked"` // the sheet has a limit for it
	Low        *float64     `json:"low"`
	High       *float64     `json:"high"`
	Nominal    *float64     `json:"nominal"`
	State      checks.State `json:"state,omitempty"`
	Text       string       `json:"text"`
	Bracket    string       `json:"bracket,omitempty"`
}

// PointView is what a round found at one test point.
type PointView struct {
	TestPoint string        `json:"test_point"`
	Figures   []FigureView  `json:"figures"`
	Findings  []FindingView `json:"findings"`
	Remarks   []string      `json:"remarks"`
	Trouble   string        `json:"trouble,omitempty"`
}

// FindingView is something that was noticed, in words.
type FindingView struct {
	Code   checks.FindingCode `json:"code"`
	State  checks.State       `json:"state"`
	Text   string             `json:"text"`
	Advice string             `json:"advice"`
}

func (s *Server) roundRoutes() []route {
	return []route{
		get("/api/v1/units/{unit}/round-plan", "Says what a round of a unit would read and where.", s.getRoundPlan,
			parameter{name: "place", about: "the place that the unit is at", kind: reflect.String}),
		get("/api/v1/units/{unit}/rounds", "Lists the rounds of a unit with their figures.", s.getRounds),
		post("/api/v1/units/{unit}/rounds", "Begins a round; its test points are read one by one.", http.StatusCreated, s.beginRound),
		get("/api/v1/units/{unit}/rounds/{label}", "Shows a round with its figures.", s.getRound),
		post("/api/v1/units/{unit}/rounds/{label}/points/{point}", "Reads one test point of a round until it has settled.",
			http.StatusOK, s.readPoint).taking(pointTimeout),
		post("/api/v1/units/{unit}/rounds/{label}/end", "Closes a round.", http.StatusOK, s.endRound),
	}
}

func (s *Server) getRoundPlan(r *http.Request) (RoundPlanView, error) {
	plan, err := s.bench.PlanRound(r.Context(), unitIn(r), r.URL.Query().Get("place"))
	if err != nil {
		return RoundPlanView{}, err
	}
	view := ViewRoundPlan(plan)
	finals, err := s.bench.Book().Finals(r.Context(), plan.Unit.ID)
	view.FinalTaken = len(finals) > 0
	return view, err
}

func (s *Server) beginRound(r *http.Request, request RoundRequest) (RoundView, error) {
	plan, err := s.bench.PlanRound(r.Context(), unitIn(r), request.Place)
	if err != nil {
		return RoundView{}, err
	}
	round, err := s.bench.BeginRound(r.Context(), plan, request.ToRound(plan.Unit.ID))
	return ViewRound(plan.Sheet, round), err
}

// ToRound is the request in the bench's own form.
func (r RoundRequest) ToRound(unit checks.UnitID) logger.RoundRequest {
	request := logger.RoundRequest{Unit: unit, Label: r.Label, Trial: book.TrialID(r.Trial), Candidate: math.NaN()}
	if r.Candidate != nil {
		request.Candidate = *r.Candidate
	}
	return request
}

// pointTimeout is how long reading one test point may take: every measure until it
// has settled, or slow records over a slow line.
const pointTimeout = 5 * time.Minute

func (s *Server) readPoint(r *http.Request, request PointRequest) (PointView, error) {
	report, err := s.bench.ReadPoint(r.Context(), unitIn(r), r.PathValue("label"), request.Place, checks.TestPointName(r.PathValue("point")))
	if err != nil {
		return PointView{}, err
	}
	return ViewPoint(report), nil
}

func (s *Server) endRound(r *http.Request, _ Nothing) (RoundView, error) {
	if err := s.bench.EndRound(r.Context(), unitIn(r), r.PathValue("label")); err != nil {
		return RoundView{}, err
	}
	return s.getRound(r)
}

func (s *Server) getRounds(r *http.Request) ([]RoundView, error) {
	rounds, err := s.bench.Book().Rounds(r.Context(), unitIn(r))
	if err != nil {
		return nil, err
	}
	views := []RoundView{}
	for _, round := range rounds {
		sheet, err := s.bench.SheetOf(round.Sheet)
		if err != nil {
			return nil, err
		}
		views = append(views, ViewRound(sheet, round))
	}
	return views, nil
}

func (s *Server) getRound(r *http.Request) (RoundView, error) {
	round, err := s.bench.Book().Round(r.Context(), unitIn(r), r.PathValue("label"))
	if err != nil {
		return RoundView{}, err
	}
	sheet, err := s.bench.SheetOf(round.Sheet)
	if err != nil {
		return RoundView{}, err
	}
	return ViewRound(sheet, round), nil
}

// ViewRoundPlan puts a plan into the form of the API.
func ViewRoundPlan(p logger.RoundPlan) RoundPlanView {
	view := RoundPlanView{Unit: string(p.Unit.ID), Console: string(p.Unit.Console), Place: p.Place, Sheet: p.Sheet.Name, Steps: []RoundStepView{}, Cautions: []string{},
		FinalStated: len(p.Sheet.Final.Steps) > 0}
	for _, step := range p.Steps {
		view.Steps = append(view.Steps, RoundStepView{TestPoint: string(step.Point.Name), About: step.Point.About, Connect: step.Point.Connect,
			Caution: step.Point.Caution, Instrument: step.Instrument, Channel: step.Channel, NeedsPerson: step.NeedsPerson(), Discharge: step.Point.Discharge != nil})
		if step.Point.Discharge != nil {
			view.Cautions = checks.StoredChargeCautions()
		}
	}
	return view
}

// ViewRound puts a round into the form of the API.
func ViewRound(sheet checks.Sheet, r book.Round) RoundView {
	view := RoundView{Round: int64(r.ID), Unit: string(r.Unit), Console: string(r.Console), Label: r.Label, Sheet: r.Sheet.Name,
		Begin: r.Begin, End: moment(r.End), Trial: int64(r.Trial), Figures: []FigureView{}}
	if r.Trial != 0 {
		view.Candidate = number(r.Candidate)
	}
	for _, f := range logger.RoundFigures(sheet, r.Readings) {
		view.Figures = append(view.Figures, viewFigure(f))
	}
	return view
}

// ViewPoint puts what was found at a test point into the form of the API.
func ViewPoint(report logger.PointReport) PointView {
	view := PointView{TestPoint: string(report.Step.Point.Name), Figures: []FigureView{}, Findings: ViewFindings(report.Findings), Remarks: []string{}}
	view.Remarks = append(view.Remarks, report.Remarks...)
	if report.Trouble != nil {
		view.Trouble = report.Trouble.Error()
	}
	for _, f := range report.Figures {
		view.Figures = append(view.Figures, viewFigure(f))
	}
	return view
}

// ViewFindings are the findings that no other explains.
func ViewFindings(findings []checks.Finding) []FindingView {
	views := []FindingView{}
	for _, f := range checks.Shown(findings) {
		views = append(views, FindingView{Code: f.Code, State: f.State, Text: f.Text, Advice: f.Advice})
	}
	return views
}

func viewFigure(f logger.RoundFigure) FigureView {
	view := FigureView{TestPoint: string(f.Check.TestPoint), Measure: string(f.Check.Measure), Unit: f.Check.Measure.Unit().Symbol,
		Figure: number(f.Figure), FigureU: number(f.U), Asked: f.Asked, State: f.State, Text: f.Text()}
	if f.Reading != nil {
		view.Instrument, view.At, view.Averaged = f.Reading.Instrument, moment(f.Reading.At), f.Reading.Averaged
		view.Value, view.U = number(f.Reading.Value), number(f.Reading.StandardUncertainty)
	}
	if f.Asked {
		view.Low, view.High, view.Nominal = number(f.Limit.Low), number(f.Limit.High), number(f.Limit.Nominal)
	}
	if f.Asked && f.State != "" {
		view.Bracket = f.Bracket().Text()
	}
	return view
}
