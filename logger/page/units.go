package page

import (
	"net/http"
	"time"

	"soakline/checks"
	"soakline/logger/book"
)

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

func (s *Server) unitRoutes() []route {
	return []route{
		get("/api/v1/units", "Lists the units of the book.", s.getUnits),
		post("/api/v1/units", "Adds a unit; its console is a model that a sheet of the bench is for.", http.StatusCreated, s.addUnit),
		get("/api/v1/units/{unit}", "Shows one unit with its notes.", s.getUnit),
		post("/api/v1/units/{unit}/notes", "Adds a note to a unit.", http.StatusCreated, s.addNote),
	}
}

func (s *Server) getUnits(r *http.Request) ([]UnitView, error) {
	units, err := s.bench.Book().Units(r.Context())
	views := []UnitView{}
	for _, unit := range units {
		views = append(views, ViewUnit(unit))
	}
	return views, err
}

func (s *Server) getUnit(r *http.Request) (UnitView, error) {
	unit, err := s.bench.Book().Unit(r.Context(), unitIn(r))
	return ViewUnit(unit), err
}

func (s *Server) addUnit(r *http.Request, view UnitView) (UnitView, error) {
	unit := book.Unit{ID: checks.UnitID(view.Unit), Console: checks.ConsoleName(view.Console)}
	for _, note := range view.Notes {
		unit.Notes = append(unit.Notes, book.Note{Text: note.Text})
	}
	if err := s.bench.AddUnit(r.Context(), unit); err != nil {
		return UnitView{}, err
	}
	kept, err := s.bench.Book().Unit(r.Context(), unit.ID)
	return ViewUnit(kept), err
}

func (s *Server) addNote(r *http.Request, note NoteView) (NoteView, error) {
	return note, s.bench.Book().AddNote(r.Context(), unitIn(r), book.Note{Text: note.Text})
}

func unitIn(r *http.Request) checks.UnitID { return checks.UnitID(r.PathValue("unit")) }

// ViewUnit puts a unit into the form of the API.
func ViewUnit(u book.Unit) UnitView {
	view := UnitView{Unit: string(u.ID), Console: string(u.Console), Added: moment(u.Added), Notes: []NoteView{}}
	for _, note := range u.Notes {
		view.Notes = append(view.Notes, NoteView{At: moment(note.At), Text: note.Text})
	}
	return view
}
