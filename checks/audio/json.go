package audio

import (
	"encoding/json"
	"math"

	"soakline/checks"
)

// number is null in JSON where it was not measured.
type number = checks.Number

type jsonHum struct {
	Hertz number `json:"hz"`
	DBV   number `json:"dbv"`
	DBFS  number `json:"dbfs"`
}

type jsonDisturbance struct {
	At      number `json:"at_s"`
	Seconds number `json:"length_s"`
	Volts   number `json:"height_v"`
}

// jsonChannel has one channel's keys in the order in which they are printed, the
// standard uncertainties at the end, each under its figure's key with _u before the
// unit. Figures in volts are null where the record has none, those against full
// scale where it has.
type jsonChannel struct {
	RMS       number            `json:"rms_v"`
	LevelDBV  number            `json:"level_dbv"`
	NoiseDBV  number            `json:"noise_dbv"`
	THD       number            `json:"thd_pct"`
	Hum       []jsonHum         `json:"hum"`
	LevelDBu  number            `json:"level_dbu"`
	LevelDBFS number            `json:"level_dbfs"`
	NoiseDBFS number            `json:"noise_dbfs"`
	NoiseADBV number            `json:"noise_a_dbv"`
	NoiseAFS  number            `json:"noise_a_dbfs"`
	SNR       number            `json:"snr_db"`
	SNRA      number            `json:"snr_a_db"`
	THDN      number            `json:"thd_n_pct"`
	Peak      number            `json:"peak_v"`
	PeakDBFS  number            `json:"peak_dbfs"`
	PeakToPk  number            `json:"peak_to_peak_v"`
	DC        number            `json:"dc_v"`
	Crest     number            `json:"crest_factor"`
	Tone      number            `json:"tone_hz"`
	Mains     number            `json:"mains_hz"`
	HumTotal  number            `json:"hum_rms_v"`
	Clipped   int               `json:"clipped_samples"`
	Clicks    []jsonDisturbance `json:"clicks"`
	Dropouts  []jsonDisturbance `json:"dropouts"`
	RMSU      number            `json:"rms_u_v"`
	LevelU    number            `json:"level_u_db"`
	NoiseU    number            `json:"noise_u_db"`
	THDU      number            `json:"thd_u_pct"`
	THDNU     number            `json:"thd_n_u_pct"`
	SNRU      number            `json:"snr_u_db"`
	DCU       number            `json:"dc_u_v"`
	ToneU     number            `json:"tone_u_hz"`
}

type jsonNamed struct {
	Name string `json:"channel"`
	jsonChannel
}

// jsonResult has the first channel's figures at the top, then all channels.
type jsonResult struct {
	jsonChannel
	Balance     number           `json:"balance_db"`
	BalanceU    number           `json:"balance_u_db"`
	Phase       number           `json:"phase_deg"`
	PhaseU      number           `json:"phase_u_deg"`
	Correlation number           `json:"correlation"`
	SampleHertz number           `json:"sample_rate_hz"`
	Seconds     number           `json:"length_s"`
	NoiseBand   number           `json:"noise_bandwidth_hz"`
	FullScale   bool             `json:"relative_to_full_scale"`
	State       checks.State     `json:"state"`
	Findings    []checks.Finding `json:"findings"`
	Channels    []jsonNamed      `json:"channels"`
}

// MarshalJSON writes the result in SI units with the unit in each key; what was not
// measured is null.
func (r Result) MarshalJSON() ([]byte, error) {
	j := jsonResult{
		Balance: number(r.Balance.Decibels.Value), BalanceU: number(r.Balance.Decibels.U),
		Phase: number(r.Balance.PhaseDegrees.Value), PhaseU: number(r.Balance.PhaseDegrees.U),
		Correlation: number(r.Balance.Correlation.Value),
		SampleHertz: number(r.SampleHertz), Seconds: number(r.Seconds), NoiseBand: number(r.NoiseBandHertz),
		FullScale: r.Relative, State: r.State, Findings: []checks.Finding{},
	}
	for _, c := range r.Channels {
		j.Channels = append(j.Channels, jsonNamed{c.Name, c.forJSON(r.Relative)})
	}
	if len(j.Channels) > 0 {
		j.jsonChannel = j.Channels[0].jsonChannel
	}
	j.Findings = append(j.Findings, r.Findings...)
	return json.Marshal(j)
}

// split puts a figure where it belongs: volts, or shares of full scale.
func split(x float64, relative bool) (volts, full number) {
	if relative {
		return number(math.NaN()), number(x)
	}
	return number(x), number(math.NaN())
}

func (c ChannelResult) forJSON(relative bool) jsonChannel {
	level := c.LevelVolts()
	j := jsonChannel{
		THD: number(c.THDPercent.Value), SNR: number(c.SNRDecibels.Value), SNRA: number(c.SNRADecibels.Value),
		THDN: number(c.THDNPercent.Value), Crest: number(c.CrestFactor.Value),
		Tone: number(c.ToneHertz.Value), Mains: number(c.MainsHertz), Clipped: c.Clipped, Hum: []jsonHum{},
		Clicks: jsonDisturbances(c.Clicks, relative), Dropouts: jsonDisturbances(c.Dropouts, relative),
		LevelU: number(level.DBV().U), NoiseU: number(c.NoiseVolts.DBV().U), THDU: number(c.THDPercent.U),
		THDNU: number(c.THDNPercent.U), SNRU: number(c.SNRDecibels.U), ToneU: number(c.ToneHertz.U),
		LevelDBu: number(math.NaN()),
	}
	j.LevelDBV, j.LevelDBFS = split(level.DBV().Value, relative)
	j.NoiseDBV, j.NoiseDBFS = split(c.NoiseVolts.DBV().Value, relative)
	j.NoiseADBV, j.NoiseAFS = split(c.NoiseAVolts.DBV().Value, relative)
	j.RMS, _ = split(c.RMSVolts.Value, relative)
	j.RMSU, _ = split(c.RMSVolts.U, relative)
	j.Peak, _ = split(c.PeakVolts.Value, relative)
	_, j.PeakDBFS = split(c.PeakVolts.DBV().Value, relative)
	j.PeakToPk, _ = split(c.PeakToPeakVolts.Value, relative)
	j.DC, _ = split(c.DCVolts.Value, relative)
	j.DCU, _ = split(c.DCVolts.U, relative)
	j.HumTotal, _ = split(c.HumVolts.Value, relative)
	if !relative {
		j.LevelDBu = number(level.DBu().Value)
	}
	for _, h := range c.Hum {
		dbv, dbfs := split(h.Volts.DBV().Value, relative)
		j.Hum = append(j.Hum, jsonHum{number(h.Hertz.Value), dbv, dbfs})
	}
	return j
}

func jsonDisturbances(all []Disturbance, relative bool) []jsonDisturbance {
	out := []jsonDisturbance{}
	for _, d := range all {
		volts, _ := split(d.Volts, relative)
		out = append(out, jsonDisturbance{number(d.AtSeconds), number(d.Seconds), volts})
	}
	return out
}
