package page

import (
	"encoding/json"
	"errors"
	"net/http"
	"reflect"

	"soakline/checks"
	"soakline/checks/reservoir"
	"soakline/logger"
)

// DischargeView is how a watched discharge stands. A voltage that is not known is
// null, and so is a time that cannot be said; none of it says that anything may be
// touched.
type DischargeView struct {
	TestPoint    string          `json:"test_point"`
	Phase        reservoir.Phase `json:"phase"`
	Volts        *float64        `json:"value_v"`
	BelowVolts   float64         `json:"below_v"`
	SecondsLeft  *float64        `json:"seconds_left"`
	SecondsLeftU *float64        `json:"seconds_left_u"`
	TauSeconds   *float64        `json:"tau_s"`
	TauU         *float64        `json:"tau_u_s"`
	CapacitanceF *float64        `json:"capacitance_f"` // where the load is known
	CapacitanceU *float64        `json:"capacitance_u_f"`
	Findings     []FindingView   `json:"findings"`
	BelowForS    float64         `json:"below_for_s"`
	Watched      bool            `json:"watched"`
	Text         string          `json:"text"`
	ReadingAgeS  float64         `json:"reading_age_s"`
	Cautions     []string        `json:"cautions,omitempty"`
	Trouble      string          `json:"error,omitempty"`
}

// ViewDischarge puts an outlook into the form of the API.
func ViewDischarge(point checks.TestPointName, o reservoir.Outlook) DischargeView {
	return DischargeView{TestPoint: string(point), Phase: o.Phase, Volts: number(o.Volts), BelowVolts: o.BelowVolts,
		SecondsLeft: number(o.Left.Value), SecondsLeftU: number(o.Left.U), TauSeconds: number(o.Tau.Value), TauU: number(o.Tau.U),
		CapacitanceF: number(o.Capacitance.Value), CapacitanceU: number(o.Capacitance.U), Findings: ViewFindings(o.Findings),
		BelowForS: o.BelowFor.Seconds(), Watched: o.Watched, Text: o.Text(), ReadingAgeS: o.Age.Seconds()}
}

func (s *Server) dischargeRoutes() []route {
	return []route{{method: http.MethodPost, path: "/api/v1/units/{unit}/discharge/{point}",
		about: "Watches the voltage at a capacitor: a line of JSON four times a second for as long as the client reads.",
		takes: reflect.TypeFor[PointRequest](), gives: reflect.TypeFor[DischargeView](), media: "application/x-ndjson",
		status: http.StatusOK, serve: s.watchDischarge}}
}

// watchDischarge streams how a discharge stands, one line of JSON four times a
// second, for as long as the client reads. Watching sends only questions to the
// instrument, yet it is a POST: it writes into the book.
func (s *Server) watchDischarge(w http.ResponseWriter, r *http.Request) {
	var request PointRequest
	if !read(w, r, &request) {
		return
	}
	point := checks.TestPointName(r.PathValue("point"))
	control := http.NewResponseController(w)
	encoder := json.NewEncoder(w)
	began := false
	send := func(view DischargeView) bool {
		if !began {
			w.Header().Set("Content-Type", "application/x-ndjson")
			w.Header().Set("Cache-Control", "no-store")
			view.Cautions = checks.StoredChargeCautions()
			began = true
		}
		err := errors.Join(patient(w, requestTimeout), encoder.Encode(view), control.Flush())
		return err == nil
	}
	err := s.bench.WatchDischarge(r.Context(), checks.UnitID(r.PathValue("unit")), request.Place, point,
		func(o reservoir.Outlook) bool { return send(ViewDischarge(point, o)) })
	if err != nil && !began {
		fail(w, err)
	} else if err != nil && !errors.Is(err, logger.ErrStopped) {
		send(DischargeView{TestPoint: string(point), Phase: reservoir.NotKnown, Findings: []FindingView{}, Trouble: err.Error()})
	}
}
