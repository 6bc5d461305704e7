package supply

import (
	"encoding/json"

	"soakline/checks"
)

// number is null in JSON where it was not measured.
type number = checks.Number

type jsonDip struct {
	Kind   DipKind `json:"kind"`
	Begin  number  `json:"begin_s"`
	End    number  `json:"end_s"`
	Lowest number  `json:"lowest_v"`
	Depth  number  `json:"depth_pct"`
	Broken bool    `json:"broken"`
}

type jsonStart struct {
	Begin     number `json:"begin_s"`
	ToRail    number `json:"to_rail_s"`
	Settled   number `json:"settled_s"`
	Overshoot number `json:"overshoot_pct"`
}

type jsonStep struct {
	Begin    number `json:"begin_s"`
	Sag      number `json:"sag_v"`
	SagShare number `json:"sag_pct"`
	Recovery number `json:"recovery_s"`
	Change   number `json:"change_v"`
}

// MarshalJSON writes the result in SI units with the unit in each key; what was not
// measured is null. Standard uncertainties have _u before the unit.
func (r Result) MarshalJSON() ([]byte, error) {
	j := struct {
		DC           number           `json:"dc_v"`
		RipplePP     number           `json:"ripple_pp_v"`
		RippleRMS    number           `json:"ripple_rms_v"`
		RippleHertz  number           `json:"ripple_hz"`
		Capacitance  number           `json:"capacitance_f"`
		ESR          number           `json:"esr_ohm"`
		Dropouts     []jsonDip        `json:"dropouts"`
		Findings     []checks.Finding `json:"findings"`
		State        checks.State     `json:"state"`
		FullWave     bool             `json:"full_wave"`
		HalfWave     bool             `json:"half_wave"`
		Start        *jsonStart       `json:"start"`
		Step         *jsonStep        `json:"load_step"`
		Trough       number           `json:"trough_v"`
		DCU          number           `json:"dc_u_v"`
		RipplePPU    number           `json:"ripple_pp_u_v"`
		RippleRMSU   number           `json:"ripple_rms_u_v"`
		RippleHertzU number           `json:"ripple_u_hz"`
		CapacitanceU number           `json:"capacitance_u_f"`
		ESRU         number           `json:"esr_u_ohm"`
	}{
		DC: number(r.DCVolts.Value), RipplePP: number(r.RipplePeakToPeakVolts.Value), RippleRMS: number(r.RippleRMSVolts.Value),
		RippleHertz: number(r.RippleHertz.Value), Capacitance: number(r.Capacitance.Value), ESR: number(r.ESR.Value),
		Dropouts: []jsonDip{}, Findings: []checks.Finding{}, State: r.State, FullWave: r.FullWave, HalfWave: r.HalfWave,
		Trough: number(r.TroughVolts.Value), DCU: number(r.DCVolts.U), RipplePPU: number(r.RipplePeakToPeakVolts.U), RippleRMSU: number(r.RippleRMSVolts.U),
		RippleHertzU: number(r.RippleHertz.U), CapacitanceU: number(r.Capacitance.U), ESRU: number(r.ESR.U),
	}
	for _, d := range r.Dips {
		j.Dropouts = append(j.Dropouts, jsonDip{d.Kind, number(d.BeginSeconds), number(d.EndSeconds), number(d.LowestVolts), number(100 * d.DepthShare), d.Broken})
	}
	j.Findings = append(j.Findings, r.Findings...)
	if s := r.Start; s != nil {
		j.Start = &jsonStart{number(s.BeginSeconds), number(s.ToRailSeconds), number(s.SettledSeconds), number(s.OvershootPercent)}
	}
	if s := r.Step; s != nil {
		j.Step = &jsonStep{number(s.BeginSeconds), number(s.SagVolts), number(s.SagPercent), number(s.RecoverySeconds), number(s.ChangeVolts)}
	}
	return json.Marshal(j)
}
