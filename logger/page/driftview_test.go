package page

import (
	"encoding/json"
	"math"
	"testing"
	"time"

	"soakline/checks"
	"soakline/checks/drift"
	"soakline/device"
)

// What is not known of a drift is null, never 0; what is known is there.
func TestDriftViewOfKnownAndUnknown(t *testing.T) {
	nan := math.NaN()
	at := time.Date(2026, 11, 25, 14, 0, 0, 0, time.UTC)
	key := checks.CheckKey{TestPoint: "rail-5v", Measure: device.DCVoltage}
	tests := []struct {
		name     string
		standing *checks.DriftStanding
		want     string
	}{
		{"not watched", nil, "null"},
		{"nothing known yet", &checks.DriftStanding{Check: key, PerHour: nan, PerHourLow: nan, PerHourHigh: nan, Limit: nan,
			SecondsToLimit: nan, SecondsToLimitLow: nan, SecondsToLimitHigh: nan},
			`{"learnt":false,"slope_per_hour":null,"slope_low":null,"slope_high":null,"trend_since":null,"limit":null,"to_limit_s":null,"to_limit_low_s":null,"to_limit_high_s":null,"alarm_at":null,"text":"rail-5v: too few readings for a trend"}`},
		{"a drift since the middle", &checks.DriftStanding{Check: key, Learnt: true, PerHour: -0.012, PerHourLow: -0.014, PerHourHigh: -0.01,
			TrendSince: at.Add(-time.Hour), Outlook: drift.Ahead, Limit: 4.75, SecondsToLimit: 10800, SecondsToLimitLow: 7200, SecondsToLimitHigh: math.Inf(1),
			Alarms: []drift.Alarm{{At: at.Add(time.Minute)}, {At: at}}},
			`{"learnt":true,"slope_per_hour":-0.012,"slope_low":-0.014,"slope_high":-0.01,"trend_since":"2026-11-25T13:00:00Z","limit":4.75,"to_limit_s":10800,"to_limit_low_s":7200,"to_limit_high_s":null,"alarm_at":"2026-11-25T14:00:00Z","text":"rail-5v falls 12 mV an hour and meets 4.75 V in about 3 h [2 h, more than 100 years]"}`},
	}
	for _, tt := range tests {
		got, err := json.Marshal(driftView(tt.standing))
		if err != nil || string(got) != tt.want {
			t.Errorf("%s: %v\n got %s\nwant %s", tt.name, err, got, tt.want)
		}
	}
}
