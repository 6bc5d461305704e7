package page

import (
	"context"
	"errors"
	"net/http"
	"reflect"
	"strings"
	"time"

	"soakline/checks"
	"soakline/logger"
	"soakline/logger/book"
)

// SoakRequest asks for a soak to begin.
type SoakRequest struct {
	Unit  string  `json:"unit"`
	Place string  `json:"place,omitempty"`
	ForS  float64 `json:"for_s,omitempty"`
}

// SoakRecordView is a soak of the book.
type SoakRecordView struct {
	Soak     int64      `json:"soak"`
	Unit     string     `json:"unit"`
	Console  string     `json:"console"`
	Place    string     `json:"place"`
	Sheet    string     `json:"sheet"`
	Begin    time.Time  `json:"begin"`
	End      *time.Time `json:"end"`
	PlannedS float64    `json:"planned_s"`
	State    string     `json:"state"`
	Reason   string     `json:"reason,omitempty"`
	// Outcome is the last verdict; empty while there is none.
	Outcome checks.Outcome `json:"outcome,omitempty"`
}

// EndRequest says why a soak is stopped.
type EndRequest struct {
	Reason string `json:"reason"`
}

// longestSoakS bounds what is taken for a length in earnest: a year.
const longestSoakS = 365 * 24 * 3600

func (s *Server) soakRoutes() []route {
	return []route{
		get("/api/v1/bench", "Shows how the bench stands now: instruments, soaks under way, verdicts, the book.", s.getBench),
		get("/api/v1/soaks", "Lists soaks with their last verdicts.", s.getSoaks,
			parameter{name: "unit", about: "only those of this unit", kind: reflect.String}),
		post("/api/v1/soaks", "Begins a soak; without a place at the first free one, without a length for as long as the sheet says.",
			http.StatusCreated, s.beginSoak),
		post("/api/v1/units/{unit}/soak/end", "Stops the soak of a unit before its time, for a reason in words.", http.StatusAccepted, s.endSoak),
	}
}

func (s *Server) getBench(r *http.Request) (BenchView, error) {
	snapshot, err := s.bench.Snapshot(r.Context())
	return View(snapshot), err
}

func (s *Server) getSoaks(r *http.Request) ([]SoakRecordView, error) {
	return ViewSoaks(r.Context(), s.bench.Book(), checks.UnitID(r.URL.Query().Get("unit")))
}

func (s *Server) beginSoak(r *http.Request, request SoakRequest) (SoakRecordView, error) {
	if !(request.ForS >= 0 && request.ForS <= longestSoakS) {
		return SoakRecordView{}, refusal(http.StatusUnprocessableEntity, "for_s %g: a soak lasts longer than nothing and at most a year", request.ForS)
	}
	soak, err := s.bench.BeginSoak(r.Context(), logger.SoakRequest{Unit: checks.UnitID(request.Unit), Place: request.Place,
		For: time.Duration(request.ForS * float64(time.Second))})
	return viewSoakRecord(soak), err
}

func (s *Server) endSoak(r *http.Request, request EndRequest) (EndRequest, error) {
	if strings.TrimSpace(request.Reason) == "" {
		return request, refusal(http.StatusUnprocessableEntity, "reason: say why the soak is stopped")
	}
	return request, s.bench.EndSoak(r.Context(), unitIn(r), request.Reason)
}

// ViewSoaks lists the soaks of a unit (of all, if empty) with their last verdicts.
func ViewSoaks(ctx context.Context, from *book.Book, unit checks.UnitID) ([]SoakRecordView, error) {
	soaks, err := from.Soaks(ctx, unit)
	if err != nil {
		return nil, err
	}
	views := []SoakRecordView{}
	for _, soak := range soaks {
		view := viewSoakRecord(soak)
		verdict, err := from.Verdict(ctx, soak.ID)
		switch {
		case err == nil:
			view.Outcome = verdict.Outcome
		case !errors.Is(err, book.ErrNotFound):
			return nil, err
		}
		views = append(views, view)
	}
	return views, nil
}

func viewSoakRecord(soak book.Soak) SoakRecordView {
	return SoakRecordView{Soak: int64(soak.ID), Unit: string(soak.Unit), Console: string(soak.Console), Place: soak.Place,
		Sheet: soak.Sheet.Name, Begin: soak.Begin, End: moment(soak.End), PlannedS: soak.Planned.Seconds(),
		State: string(soak.State), Reason: soak.Reason}
}
