package page

import (
	"time"

	"soakline/checks"
)

// DriftView is what is known of a check's drift. Figures are in the check's unit.
type DriftView struct {
	Learnt      bool     `json:"learnt"` // false until there is a baseline
	PerHour     *float64 `json:"slope_per_hour"`
	PerHourLow  *float64 `json:"slope_low"`
	PerHourHigh *float64 `json:"slope_high"`
	// TrendSince is when the change began that the slope is counted from; null where
	// it is of the whole soak.
	TrendSince  *time.Time `json:"trend_since"`
	Limit       *float64   `json:"limit"` // the one that the readings move to
	ToLimitS    *float64   `json:"to_limit_s"`
	ToLimitLow  *float64   `json:"to_limit_low_s"`
	ToLimitHigh *float64   `json:"to_limit_high_s"`
	// AlarmAt is when a chart alarmed first; null if none has.
	AlarmAt *time.Time `json:"alarm_at"`
	Text    string     `json:"text"`
}

func driftView(s *checks.DriftStanding) *DriftView {
	if s == nil {
		return nil
	}
	return &DriftView{Learnt: s.Learnt, PerHour: number(s.PerHour), PerHourLow: number(s.PerHourLow), PerHourHigh: number(s.PerHourHigh), TrendSince: moment(s.TrendSince),
		Limit: number(s.Limit), ToLimitS: number(s.SecondsToLimit), ToLimitLow: number(s.SecondsToLimitLow),
		ToLimitHigh: number(s.SecondsToLimitHigh), AlarmAt: moment(s.Since()), Text: s.Text()}
}
