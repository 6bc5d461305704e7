package checks

import (
	"fmt"
	"math"
	"strings"
	"time"

	"soakline/checks/drift"
	"soakline/device"
)

// DriftStanding is what is known of a check's drift. Figures are in the measure's
// unit; what is not known is NaN.
type DriftStanding struct {
	Check CheckKey
	// Learnt is false while the warm-up lasts or the baseline is being learnt.
	Learnt bool
	// PerHour is the slope, with its interval at 95 %.
	PerHour, PerHourLow, PerHourHigh float64
	// TrendSince is when the change began that the slope is counted from; the zero time
	// where it is of the whole soak.
	TrendSince time.Time
	// Outlook tells what the time to the limit means, or why there is none; Limit
	// is the end of the limit that the readings move to.
	Outlook                                               drift.Outlook
	Limit                                                 float64
	SecondsToLimit, SecondsToLimitLow, SecondsToLimitHigh float64
	Alarms                                                []drift.Alarm
}

func (w *DriftWatch) workOut() DriftStanding {
	nan := math.NaN()
	s := DriftStanding{Check: w.key, Alarms: w.monitor.Alarms(), PerHour: nan, PerHourLow: nan, PerHourHigh: nan,
		Limit: nan, SecondsToLimit: nan, SecondsToLimitLow: nan, SecondsToLimitHigh: nan}
	_, s.Learnt = w.monitor.Baseline()
	slope, forecast, since, err := w.monitor.Trend()
	if err != nil {
		return s
	}
	const hour = 3600
	s.PerHour, s.PerHourLow, s.PerHourHigh = hour*slope.PerSecond, hour*slope.Low, hour*slope.High
	s.Outlook, s.TrendSince = forecast.Outlook, since
	if s.Outlook == drift.Ahead || s.Outlook == drift.Passed {
		s.SecondsToLimit, s.SecondsToLimitLow, s.SecondsToLimitHigh = forecast.Seconds, forecast.Low, forecast.High
		if s.Limit = w.limit.High; slope.PerSecond < 0 {
			s.Limit = w.limit.Low
		}
	}
	return s
}

// Text says it in words: "rail-5v falls 12 mV an hour and meets 4.75 V in about
// 3 h [2 h, 5 h]". Where a drift began during the soak, that is its own slope.
func (s DriftStanding) Text() string {
	unit := s.Check.Measure.Unit()
	var text strings.Builder
	text.WriteString(string(s.Check.TestPoint))
	verb := "rises"
	if s.PerHour < 0 {
		verb = "falls"
	}
	switch s.Outlook {
	case drift.NotKnown:
		text.WriteString(": too few readings for a trend")
	case drift.NoTrend:
		text.WriteString(" has no steady trend")
		if !s.TrendSince.IsZero() {
			text.WriteString(" since its level changed")
		}
	default:
		fmt.Fprintf(&text, " %s %s an hour", verb, rounded(math.Abs(s.PerHour), unit))
	}
	switch s.Outlook {
	case drift.Ahead:
		fmt.Fprintf(&text, " and meets %s in about %s [%s, %s]", Figure(s.Limit, 0, unit),
			roughly(s.SecondsToLimit), roughly(s.SecondsToLimitLow), roughly(s.SecondsToLimitHigh))
	case drift.Passed:
		fmt.Fprintf(&text, ", and its line has met %s already", Figure(s.Limit, 0, unit))
	case drift.NoLimit:
		text.WriteString("; there is no limit on that side")
	}
	return text.String()
}

// AlarmText says what an alarm means, with the trend as it is known at the time.
func (s DriftStanding) AlarmText(alarm drift.Alarm) string {
	if alarm.Kind == drift.TrendAlarm {
		way := "higher"
		if alarm.By < 0 {
			way = "lower"
		}
		return fmt.Sprintf("%s; %s %s than at %s, %s", s.Text(),
			rounded(math.Abs(alarm.By), s.Check.Measure.Unit()), way, alarm.Since.UTC().Format("2006-01-02 15:04 MST"), RaisedBy(alarm.Kind))
	}
	way := "above"
	if alarm.By < 0 {
		way = "below"
	}
	return fmt.Sprintf("%s; %s %s its baseline %s, since about %s", s.Text(),
		rounded(math.Abs(alarm.By), s.Check.Measure.Unit()), way, RaisedBy(alarm.Kind), alarm.Since.UTC().Format("2006-01-02 15:04 MST"))
}

// RaisedBy names in an alarm's text what raised it; a program that starts anew knows
// by it what was told already.
func RaisedBy(kind drift.AlarmKind) string {
	if kind == drift.TrendAlarm {
		return "by the line through all readings"
	}
	return "(" + kind.String() + " chart)"
}

// rounded prints a figure of two digits: a slope is not known better.
func rounded(x float64, unit device.Unit) string {
	if x > 0 && !math.IsInf(x, 0) {
		step := math.Pow(10, math.Floor(math.Log10(x))-1)
		x = math.Round(x/step) * step
	}
	return Figure(x, 0, unit)
}

// roughly prints a time to a limit in the unit that a person plans by.
func roughly(seconds float64) string {
	switch minutes := seconds / 60; {
	case math.IsNaN(seconds):
		return NotKnown
	case math.IsInf(seconds, 0) || minutes > 60*24*365*100:
		return "more than 100 years"
	case minutes < 1.5:
		return fmt.Sprintf("%.0f s", seconds)
	case minutes < 90:
		return fmt.Sprintf("%.0f min", minutes)
	case minutes < 10*60:
		return strings.TrimSuffix(fmt.Sprintf("%.1f", minutes/60), ".0") + " h"
	case minutes < 48*60:
		return fmt.Sprintf("%.0f h", minutes/60)
	default:
		return fmt.Sprintf("%.0f days", minutes/60/24)
	}
}

// Since is when the first of the alarms was raised; the zero time if none was.
func (s DriftStanding) Since() time.Time {
	var first time.Time
	for _, alarm := range s.Alarms {
		if first.IsZero() || alarm.At.Before(first) {
			first = alarm.At
		}
	}
	return first
}
