package reservoir

import (
	"encoding/json"

	"soakline/checks"
)

// number is null in JSON where it was not measured.
type number = checks.Number

// MarshalJSON writes the result in SI units with the unit in each key; what was not
// found is null. seconds_to_safe is the time from the begin of the fall to the
// voltage safe_v that was asked for, seconds_left that from the last reading.
func (d Discharge) MarshalJSON() ([]byte, error) {
	j := struct {
		V0           number           `json:"v0_v"`
		Tau          number           `json:"tau_s"`
		TauU         number           `json:"tau_u_s"`
		Floor        number           `json:"floor_v"`
		Below        number           `json:"safe_v"`
		ToBelow      number           `json:"seconds_to_safe"`
		Rebound      number           `json:"rebound_v"`
		Capacitance  number           `json:"capacitance_f"`
		CapacitanceU number           `json:"capacitance_u_f"`
		Load         number           `json:"load_ohm"`
		Findings     []checks.Finding `json:"findings"`
		Begin        number           `json:"begin_s"`
		Knee         number           `json:"knee_s"`
		Last         number           `json:"last_v"`
		Left         number           `json:"seconds_left"`
		V0U          number           `json:"v0_u_v"`
		FloorU       number           `json:"floor_u_v"`
		ToBelowU     number           `json:"seconds_to_safe_u"`
		ReboundU     number           `json:"rebound_u_v"`
		LoadU        number           `json:"load_u_ohm"`
	}{
		V0: number(d.V0.Value), Tau: number(d.Tau.Value), TauU: number(d.Tau.U), Floor: number(d.Floor.Value),
		Below: number(d.BelowVolts), ToBelow: number(d.SecondsToBelow.Value), Rebound: number(d.Rebound.Value),
		Capacitance: number(d.Capacitance.Value), CapacitanceU: number(d.Capacitance.U), Load: number(d.Load.Value),
		Findings: []checks.Finding{}, Begin: number(d.BeginSeconds), Knee: number(d.KneeSeconds), Last: number(d.LastVolts),
		Left: number(d.SecondsLeft.Value), V0U: number(d.V0.U), FloorU: number(d.Floor.U), ToBelowU: number(d.SecondsToBelow.U),
		ReboundU: number(d.Rebound.U), LoadU: number(d.Load.U),
	}
	j.Findings = append(j.Findings, d.Findings...)
	return json.Marshal(j)
}
