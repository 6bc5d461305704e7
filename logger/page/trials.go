package page

import (
	"math"
	"net/http"
	"reflect"
	"strconv"
	"time"

	"soakline/checks"
	"soakline/logger"
	"soakline/logger/book"
)

// ComparisonView sets two rounds side by side.
type ComparisonView struct {
	Unit   string               `json:"unit"`
	Before string               `json:"before"`
	After  string               `json:"after"`
	Lines  []ComparisonLineView `json:"lines"`
	// Audio are the changes at audio outputs in dB.
	Audio []AudioChangeView `json:"audio"`
}

// ComparisonLineView is one figure in both rounds, and its change with one standard
// uncertainty and the expanded one (k = 2), in the unit named.
type ComparisonLineView struct {
	TestPoint       string     `json:"test_point"`
	Measure         string     `json:"measure"`
	Unit            string     `json:"unit"`
	Before          FigureView `json:"before"`
	After           FigureView `json:"after"`
	Change          *float64   `json:"change"`
	ChangeU         *float64   `json:"change_u"`
	ChangeExpandedU *float64   `json:"change_expanded_u"`
	// Told tells whether there is a change: it is larger than its expanded
	// uncertainty.
	Told bool `json:"told"`
	// OneInstrument is false where two instruments were used, whose own errors do
	// not cancel.
	OneInstrument bool   `json:"one_instrument"`
	Text          string `json:"text"`
	Meaning       string `json:"meaning,omitempty"`
}

// TrialRequest asks for a trial to begin.
type TrialRequest struct {
	Part          string `json:"part"`
	CandidateUnit string `json:"candidate_unit"`
}

// TrialEndRequest closes a trial; Chosen is null where no candidate is kept.
type TrialEndRequest struct {
	Chosen *float64 `json:"chosen"`
}

// Value is the candidate that is kept; NaN where none is.
func (r TrialEndRequest) Value() float64 {
	if r.Chosen == nil {
		return math.NaN()
	}
	return *r.Chosen
}

// TrialView is a trial with its ranking. Candidates are named by their place in
// Candidates; a group holds those that cannot be told apart.
type TrialView struct {
	Trial         int64               `json:"trial"`
	Unit          string              `json:"unit"`
	Part          string              `json:"part"`
	CandidateUnit string              `json:"candidate_unit"`
	Begin         time.Time           `json:"begin"`
	End           *time.Time          `json:"end"`
	Chosen        *float64            `json:"chosen"`
	Candidates    []CandidateView     `json:"candidates"`
	Criteria      []CriterionRankView `json:"criteria"`
	Order         [][]int             `json:"order"`
}

// CandidateView is a part value and its round.
type CandidateView struct {
	Value *float64 `json:"value"`
	Text  string   `json:"text"`
	Label string   `json:"label"`
}

// CriterionRankView is the ranking by one criterion.
type CriterionRankView struct {
	TestPoint string `json:"test_point"`
	Measure   string `json:"measure"`
	Unit      string `json:"unit"`
	Aim       string `json:"aim"`
	Text      string `json:"text"`
	// Figures are those of the candidates in their order.
	Figures     []TrialFigureView `json:"figures"`
	Groups      [][]int           `json:"groups"`
	NotMeasured []int             `json:"not_measured"`
	// Keeps is null unless the criterion is a bound.
	Keeps []bool `json:"keeps" null:"true"`
}

// TrialFigureView is one figure of a candidate.
type TrialFigureView struct {
	Value *float64 `json:"value"`
	U     *float64 `json:"u"`
	Text  string   `json:"text"`
}

func (s *Server) trialRoutes() []route {
	return []route{
		get("/api/v1/units/{unit}/comparison", "Sets two rounds of a unit side by side.", s.getComparison,
			parameter{name: "before", about: "the label of the earlier round", kind: reflect.String, needed: true},
			parameter{name: "after", about: "the label of the later round", kind: reflect.String, needed: true}),
		post("/api/v1/units/{unit}/trials", "Begins a trial of values of a part.", http.StatusCreated, s.beginTrial),
		get("/api/v1/units/{unit}/trials/{trial}", "Shows a trial with its ranking.", s.getTrial),
		post("/api/v1/units/{unit}/trials/{trial}/end", "Closes a trial and notes which candidate is kept.", http.StatusOK, s.endTrial),
	}
}

func (s *Server) getComparison(r *http.Request) (ComparisonView, error) {
	before, err := s.bench.Book().Round(r.Context(), unitIn(r), r.URL.Query().Get("before"))
	if err != nil {
		return ComparisonView{}, err
	}
	after, err := s.bench.Book().Round(r.Context(), unitIn(r), r.URL.Query().Get("after"))
	if err != nil {
		return ComparisonView{}, err
	}
	sheet, err := s.bench.SheetOf(after.Sheet)
	if err != nil {
		return ComparisonView{}, err
	}
	comparison := logger.Compare(sheet, before, after)
	err = comparison.CompareAudio(r.Context(), s.bench.Book(), sheet)
	return ViewComparison(comparison), err
}

func (s *Server) beginTrial(r *http.Request, request TrialRequest) (TrialView, error) {
	trial, err := s.bench.BeginTrial(r.Context(), logger.TrialRequest{Unit: unitIn(r), Part: request.Part, CandidateUnit: request.CandidateUnit})
	return ViewTrial(logger.TrialResult{Trial: trial}), err
}

func (s *Server) endTrial(r *http.Request, request TrialEndRequest) (TrialView, error) {
	id, err := trialIn(r)
	if err == nil {
		err = s.bench.EndTrial(r.Context(), id, request.Value())
	}
	if err != nil {
		return TrialView{}, err
	}
	return s.getTrial(r)
}

func (s *Server) getTrial(r *http.Request) (TrialView, error) {
	id, err := trialIn(r)
	if err != nil {
		return TrialView{}, err
	}
	result, err := logger.TrialFromBook(r.Context(), s.bench.Book(), unitIn(r), id, s.bench.ParseSheet)
	if err != nil {
		return TrialView{}, err
	}
	return ViewTrial(result), nil
}

// trialIn is the number of the trial in a request's path.
func trialIn(r *http.Request) (book.TrialID, error) {
	id, err := strconv.ParseInt(r.PathValue("trial"), 10, 64)
	if err != nil {
		return 0, refusal(http.StatusNotFound, "%q is no number of a trial", r.PathValue("trial"))
	}
	return book.TrialID(id), nil
}

// ViewComparison puts a comparison into the form of the API.
func ViewComparison(c logger.Comparison) ComparisonView {
	view := ComparisonView{Unit: string(c.Unit), Before: c.Before.Label, After: c.After.Label, Lines: []ComparisonLineView{},
		Audio: ViewAudioChanges(c.Audio)}
	for _, line := range c.Lines {
		view.Lines = append(view.Lines, ComparisonLineView{TestPoint: string(line.Check.TestPoint), Measure: string(line.Check.Measure),
			Unit: line.Check.Measure.Unit().Symbol, Before: viewFigure(line.Before), After: viewFigure(line.After),
			Change: number(line.Change), ChangeU: number(line.ChangeU), ChangeExpandedU: number(checks.CoverageFactor * line.ChangeU),
			Told: line.Told, OneInstrument: line.OneInstrument, Text: line.ChangeText(), Meaning: line.Meaning()})
	}
	return view
}

// ViewTrial puts a trial into the form of the API.
func ViewTrial(t logger.TrialResult) TrialView {
	view := TrialView{Trial: int64(t.Trial.ID), Unit: string(t.Trial.Unit), Part: t.Trial.Part, CandidateUnit: t.Trial.CandidateUnit,
		Begin: t.Trial.Begin, End: moment(t.Trial.End), Chosen: number(t.Trial.Chosen),
		Candidates: []CandidateView{}, Criteria: []CriterionRankView{}, Order: [][]int{}}
	for i, candidate := range t.Candidates {
		view.Candidates = append(view.Candidates, CandidateView{Value: number(t.Rounds[i].Candidate), Text: candidate.Label, Label: t.Rounds[i].Label})
	}
	for k, ranking := range t.Ranking.ByTarget {
		view.Criteria = append(view.Criteria, viewRanking(t, k, ranking))
	}
	view.Order = append(view.Order, t.Ranking.Order...)
	return view
}

func viewRanking(t logger.TrialResult, k int, ranking checks.TargetRanking) CriterionRankView {
	target := ranking.Target
	view := CriterionRankView{TestPoint: string(target.TestPoint), Measure: string(target.Measure), Unit: target.Measure.Unit().Symbol,
		Aim: string(target.Aim), Text: target.String(), Figures: []TrialFigureView{}, Groups: [][]int{}, NotMeasured: []int{}, Keeps: ranking.Keeps}
	for _, candidate := range t.Candidates {
		f := candidate.Figures[k]
		view.Figures = append(view.Figures, TrialFigureView{Value: number(f.Value), U: number(f.U), Text: checks.Figure(f.Value, f.U, target.Measure.Unit())})
	}
	view.Groups = append(view.Groups, ranking.Groups...)
	view.NotMeasured = append(view.NotMeasured, ranking.NotMeasured...)
	return view
}
