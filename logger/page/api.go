package page

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"mime"
	"net/http"
	"strings"
	"time"

	"soakline/checks"
	"soakline/logger"
	"soakline/logger/book"
)

// Problem is the JSON of a refused request.
type Problem struct {
	Error string `json:"error"`
}

// UnitView is a unit of the book.
type UnitView struct {
	Unit    string     `json:"unit"`
	Console string     `json:"console"`
	Added   *time.Time `json:"added,omitempty"`
	Notes   []NoteView `json:"notes"`
}

// NoteView is a remark about a unit.
type NoteView struct {
	At   *time.Time `json:"at,omitempty"`
	Text string     `json:"text"`
}

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

func (s *Server) getBench(w http.ResponseWriter, r *http.Request) {
	snapshot, err := s.bench.Snapshot(r.Context())
	if err != nil {
		refuse(w, http.StatusServiceUnavailable, err.Error())
		return
	}
	answer(w, http.StatusOK, View(snapshot))
}

func (s *Server) getUnits(w http.ResponseWriter, r *http.Request) {
	units, err := s.bench.Book().Units(r.Context())
	if err != nil {
		fail(w, err)
		return
	}
	views := []UnitView{}
	for _, unit := range units {
		views = append(views, ViewUnit(unit))
	}
	answer(w, http.StatusOK, views)
}

func (s *Server) getUnit(w http.ResponseWriter, r *http.Request) {
	unit, err := s.bench.Book().Unit(r.Context(), checks.UnitID(r.PathValue("unit")))
	if err != nil {
		fail(w, err)
		return
	}
	answer(w, http.StatusOK, ViewUnit(unit))
}

func (s *Server) addUnit(w http.ResponseWriter, r *http.Request) {
	var view UnitView
	if !read(w, r, &view) {
		return
	}
	unit := book.Unit{ID: checks.UnitID(view.Unit), Console: checks.ConsoleName(view.Console)}
	for _, note := range view.Notes {
		unit.Notes = append(unit.Notes, book.Note{Text: note.Text})
	}
	if err := s.bench.AddUnit(r.Context(), unit); err != nil {
		fail(w, err)
		return
	}
	kept, err := s.bench.Book().Unit(r.Context(), unit.ID)
	if err != nil {
		fail(w, err)
		return
	}
	answer(w, http.StatusCreated, ViewUnit(kept))
}

func (s *Server) addNote(w http.ResponseWriter, r *http.Request) {
	var note NoteView
	if !read(w, r, &note) {
		return
	}
	if err := s.bench.Book().AddNote(r.Context(), checks.UnitID(r.PathValue("unit")), book.Note{Text: note.Text}); err != nil {
		fail(w, err)
		return
	}
	answer(w, http.StatusCreated, note)
}

func (s *Server) getSoaks(w http.ResponseWriter, r *http.Request) {
	views, err := ViewSoaks(r.Context(), s.bench.Book(), checks.UnitID(r.URL.Query().Get("unit")))
	if err != nil {
		fail(w, err)
		return
	}
	answer(w, http.StatusOK, views)
}

func (s *Server) beginSoak(w http.ResponseWriter, r *http.Request) {
	var request SoakRequest
	if !read(w, r, &request) {
		return
	}
	if !(request.ForS >= 0 && request.ForS <= longestSoakS) {
		refuse(w, http.StatusUnprocessableEntity, fmt.Sprintf("for_s %g: a soak lasts longer than nothing and at most a year", request.ForS))
		return
	}
	soak, err := s.bench.BeginSoak(r.Context(), logger.SoakRequest{Unit: checks.UnitID(request.Unit), Place: request.Place,
		For: time.Duration(request.ForS * float64(time.Second))})
	if err != nil {
		fail(w, err)
		return
	}
	answer(w, http.StatusCreated, viewSoakRecord(soak))
}

func (s *Server) endSoak(w http.ResponseWriter, r *http.Request) {
	var request EndRequest
	if !read(w, r, &request) {
		return
	}
	if strings.TrimSpace(request.Reason) == "" {
		refuse(w, http.StatusUnprocessableEntity, "reason: say why the soak is stopped")
		return
	}
	if err := s.bench.EndSoak(r.Context(), checks.UnitID(r.PathValue("unit")), request.Reason); err != nil {
		fail(w, err)
		return
	}
	answer(w, http.StatusAccepted, request)
}

// ViewUnit puts a unit into the form of the API.
func ViewUnit(u book.Unit) UnitView {
	view := UnitView{Unit: string(u.ID), Console: string(u.Console), Added: moment(u.Added), Notes: []NoteView{}}
	for _, note := range u.Notes {
		view.Notes = append(view.Notes, NoteView{At: moment(note.At), Text: note.Text})
	}
	return view
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

// read decodes the body of a request strictly. A browser's form cannot send this
// content type without asking first, so no other page can make one.
func read(w http.ResponseWriter, r *http.Request, into any) bool {
	kind, _, err := mime.ParseMediaType(r.Header.Get("Content-Type"))
	if err != nil || kind != "application/json" {
		refuse(w, http.StatusUnsupportedMediaType, "send application/json")
		return false
	}
	decoder := json.NewDecoder(http.MaxBytesReader(w, r.Body, maxBodyBytes))
	decoder.DisallowUnknownFields()
	err = decoder.Decode(into)
	if err == nil && decoder.More() {
		err = errors.New("something follows it")
	}
	if tooLong, ok := errors.AsType[*http.MaxBytesError](err); ok {
		refuse(w, http.StatusRequestEntityTooLarge, fmt.Sprintf("the request is longer than %d bytes", tooLong.Limit))
		return false
	}
	if err != nil {
		refuse(w, http.StatusBadRequest, fmt.Sprintf("the request's JSON: %v", err))
		return false
	}
	return true
}

// fail turns an error of the bench or the book into a status.
func fail(w http.ResponseWriter, err error) {
	status := http.StatusInternalServerError
	switch {
	case errors.Is(err, book.ErrNotFound):
		status = http.StatusNotFound
	case errors.Is(err, book.ErrExists), errors.Is(err, logger.ErrNoPlace), errors.Is(err, logger.ErrNotSoaks), errors.Is(err, logger.ErrRoundEnded):
		status = http.StatusConflict
	case errors.Is(err, logger.ErrNoSheet), errors.Is(err, logger.ErrNoCriteria), errors.Is(err, logger.ErrNoDischarge), errors.Is(err, book.ErrInvalid):
		status = http.StatusUnprocessableEntity
	case errors.Is(err, logger.ErrStopped), errors.Is(err, context.Canceled):
		status = http.StatusServiceUnavailable
	}
	refuse(w, status, err.Error())
}

func refuse(w http.ResponseWriter, status int, why string) {
	answer(w, status, Problem{Error: why})
}

// answer writes JSON. The client may be gone; there is nobody to tell.
func answer(w http.ResponseWriter, status int, body any) {
	text, err := json.Marshal(body)
	if err != nil {
		status, text = http.StatusInternalServerError, []byte(`{"error":"the answer could not be written as JSON"}`)
	}
	w.Header().Set("Content-Type", "application/json; charset=utf-8")
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(status)
	_, _ = w.Write(append(text, '\n'))
}
