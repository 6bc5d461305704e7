package video

import (
	"encoding/json"

	"soakline/checks"
)

// number is null in JSON where it was not measured.
type number = checks.Number

type jsonTone struct {
	Hertz number `json:"hz"`
	RMS   number `json:"rms_v"`
	RMSU  number `json:"rms_u_v"`
}

// jsonResult has the keys in the order in which they are printed: what a record is,
// its levels, edges and disturbances, then findings, then what goes beyond and the
// standard uncertainties, each under its figure's key with _u before the unit.
type jsonResult struct {
	System           *System          `json:"system"`
	LinesFound       int              `json:"lines_found"`
	LinePeriod       number           `json:"line_period_s"`
	SyncWidth        number           `json:"sync_width_s"`
	SyncTip          number           `json:"sync_tip_v"`
	Blanking         number           `json:"blanking_v"`
	Black            number           `json:"black_v"`
	White            number           `json:"white_v"`
	PeakToPeak       number           `json:"peak_to_peak_v"`
	LumaPeakToPeak   number           `json:"luma_peak_to_peak_v"`
	Sync             number           `json:"sync_v"`
	Picture          number           `json:"picture_v"`
	BurstPeakToPeak  number           `json:"burst_pp_v"`
	BurstHertz       number           `json:"burst_hz"`
	Overshoot        number           `json:"overshoot_pct"`
	Undershoot       number           `json:"undershoot_pct"`
	Rise             number           `json:"rise_s"`
	Fall             number           `json:"fall_s"`
	Bandwidth        number           `json:"bandwidth_hz"`
	Noise            number           `json:"noise_rms_v"`
	NoiseBandwidth   number           `json:"noise_bandwidth_hz"`
	Tones            []jsonTone       `json:"tones"`
	State            checks.State     `json:"state"`
	Findings         []checks.Finding `json:"findings"`
	LinesPerField    number           `json:"lines_per_field"`
	FieldHertz       number           `json:"field_hz"`
	BlackToWhite     number           `json:"black_to_white_v"`
	ExpectedToWhite  number           `json:"expected_black_to_white_v"`
	Tilt             number           `json:"tilt_pct"`
	Hum              number           `json:"hum_pp_v"`
	HumHertz         number           `json:"hum_hz"`
	Coupling         *string          `json:"coupling"`
	LinePeriodU      number           `json:"line_period_u_s"`
	SyncWidthU       number           `json:"sync_width_u_s"`
	SyncTipU         number           `json:"sync_tip_u_v"`
	BlankingU        number           `json:"blanking_u_v"`
	BlackU           number           `json:"black_u_v"`
	WhiteU           number           `json:"white_u_v"`
	PeakToPeakU      number           `json:"peak_to_peak_u_v"`
	LumaPeakToPeakU  number           `json:"luma_peak_to_peak_u_v"`
	SyncU            number           `json:"sync_u_v"`
	PictureU         number           `json:"picture_u_v"`
	BurstPeakToPeakU number           `json:"burst_pp_u_v"`
	BurstHertzU      number           `json:"burst_u_hz"`
	OvershootU       number           `json:"overshoot_u_pct"`
	UndershootU      number           `json:"undershoot_u_pct"`
	RiseU            number           `json:"rise_u_s"`
	FallU            number           `json:"fall_u_s"`
	BandwidthU       number           `json:"bandwidth_u_hz"`
	NoiseU           number           `json:"noise_rms_u_v"`
	BlackToWhiteU    number           `json:"black_to_white_u_v"`
	TiltU            number           `json:"tilt_u_pct"`
	HumU             number           `json:"hum_pp_u_v"`
}

// MarshalJSON writes the result in SI units with the unit in each key; what was not
// measured is null.
func (r Result) MarshalJSON() ([]byte, error) {
	j := jsonResult{
		LinesFound: r.LinesFound,
		LinePeriod: number(r.LinePeriodSeconds.Value), SyncWidth: number(r.SyncWidthSeconds.Value),
		SyncTip: number(r.SyncTipVolts.Value), Blanking: number(r.BlankingVolts.Value),
		Black: number(r.BlackVolts.Value), White: number(r.WhiteVolts.Value),
		PeakToPeak: number(r.PeakToPeakVolts.Value), LumaPeakToPeak: number(r.LumaPeakToPeakVolts.Value),
		Sync: number(r.SyncVolts.Value), Picture: number(r.PictureVolts.Value),
		BurstPeakToPeak: number(r.BurstPeakToPeakVolts.Value), BurstHertz: number(r.BurstHertz.Value),
		Overshoot: number(r.OvershootPercent.Value), Undershoot: number(r.UndershootPercent.Value),
		Rise: number(r.RiseSeconds.Value), Fall: number(r.FallSeconds.Value), Bandwidth: number(r.BandwidthHertz.Value),
		Noise: number(r.NoiseVolts.Value), NoiseBandwidth: number(r.NoiseBandwidthHertz),
		Tones: []jsonTone{}, State: r.State, Findings: []checks.Finding{},
		LinesPerField: number(r.LinesPerField), FieldHertz: number(r.FieldHertz()),
		BlackToWhite: number(r.BlackToWhiteVolts.Value), ExpectedToWhite: number(r.ExpectedBlackToWhiteVolts),
		Tilt: number(r.TiltPercent.Value), Hum: number(r.HumVolts.Value), HumHertz: number(r.HumHertz),
	}
	r.addUncertainties(&j)
	if r.System != "" {
		j.System = &r.System
	}
	if r.Coupling != "" {
		j.Coupling = &r.Coupling
	}
	for _, t := range r.Tones {
		j.Tones = append(j.Tones, jsonTone{number(t.Hertz.Value), number(t.RMSVolts.Value), number(t.RMSVolts.U)})
	}
	j.Findings = append(j.Findings, r.Findings...)
	return json.Marshal(j)
}

func (r Result) addUncertainties(j *jsonResult) {
	j.LinePeriodU, j.SyncWidthU = number(r.LinePeriodSeconds.U), number(r.SyncWidthSeconds.U)
	j.SyncTipU, j.BlankingU = number(r.SyncTipVolts.U), number(r.BlankingVolts.U)
	j.BlackU, j.WhiteU = number(r.BlackVolts.U), number(r.WhiteVolts.U)
	j.PeakToPeakU, j.LumaPeakToPeakU = number(r.PeakToPeakVolts.U), number(r.LumaPeakToPeakVolts.U)
	j.SyncU, j.PictureU, j.BlackToWhiteU = number(r.SyncVolts.U), number(r.PictureVolts.U), number(r.BlackToWhiteVolts.U)
	j.BurstPeakToPeakU, j.BurstHertzU = number(r.BurstPeakToPeakVolts.U), number(r.BurstHertz.U)
	j.OvershootU, j.UndershootU = number(r.OvershootPercent.U), number(r.UndershootPercent.U)
	j.RiseU, j.FallU, j.BandwidthU = number(r.RiseSeconds.U), number(r.FallSeconds.U), number(r.BandwidthHertz.U)
	j.NoiseU, j.TiltU, j.HumU = number(r.NoiseVolts.U), number(r.TiltPercent.U), number(r.HumVolts.U)
}
