package page

import (
	"time"

	"soakline/checks"
	"soakline/device"
	"soakline/logger"
)

// HappeningView is something that happened at the bench. What does not belong to
// its kind is left out.
type HappeningView struct {
	At         time.Time            `json:"at"`
	Kind       logger.HappeningKind `json:"kind"`
	Unit       string               `json:"unit,omitempty"`
	Soak       int64                `json:"soak,omitempty"`
	Round      string               `json:"round,omitempty"`
	TestPoint  string               `json:"test_point,omitempty"`
	Measure    string               `json:"measure,omitempty"`
	Instrument string               `json:"instrument,omitempty"`
	Event      device.Kind          `json:"event,omitempty"`
	From       checks.State         `json:"from,omitempty"`
	To         checks.State         `json:"to,omitempty"`
	Text       string               `json:"text,omitempty"`
	Excursion  *ExcursionView       `json:"excursion,omitempty"`
	Discharge  *DischargeView       `json:"discharge,omitempty"`
	Verdict    *VerdictView         `json:"verdict,omitempty"`
}

func viewHappening(h logger.Happening) HappeningView {
	view := HappeningView{At: h.At, Kind: h.Kind, Unit: string(h.Unit), Soak: int64(h.Soak), Round: h.Round,
		TestPoint: string(h.Check.TestPoint), Measure: string(h.Check.Measure), Instrument: h.Instrument, Event: h.Event,
		From: h.From, To: h.To, Text: h.Text}
	if h.Excursion != nil {
		excursion := viewExcursion(*h.Excursion)
		view.Excursion = &excursion
	}
	if h.Discharge != nil {
		discharge := ViewDischarge(h.Check.TestPoint, *h.Discharge)
		view.Discharge = &discharge
	}
	if h.Finished != nil {
		verdict := viewFinished(*h.Finished)
		view.Verdict = &verdict
	}
	return view
}
