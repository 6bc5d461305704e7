package main

import (
	"fmt"
	"io"
	"math"
	"strconv"
	"text/tabwriter"
	"time"

	"soakline/checks"
	"soakline/checks/drift"
	"soakline/device"
)

// printDrift writes what is known of a series, one figure below the other.
func printDrift(w io.Writer, s device.Series, r drift.Result) error {
	plain := plainFor(w)
	table := tabwriter.NewWriter(w, 0, 0, 3, ' ', 0)
	row := func(label, format string, args ...any) {
		fmt.Fprintf(table, "%s\t%s\n", label, plain(fmt.Sprintf(format, args...)))
	}
	figure := func(x float64) string { return seriesFigure(x, s.Unit) }
	row("readings used", "%d", r.N)
	row("mean", "%s", figure(r.Mean))
	row("standard deviation", "%s", figure(r.SD))
	row("slope an hour", "%s", withInterval(r.SlopePerHour, r.SlopeLow, r.SlopeHigh, func(x float64) string { return figure(threeDigits(x)) }))
	row("median slope an hour", "%s", figure(threeDigits(r.TheilSenPerHour)))
	row("chance of such a trend without one", "%s", probability(r.MannKendallP))
	if !math.IsNaN(r.TrendSince) {
		row("these three since the change, about", "%s", atSeconds(s, r.TrendSince))
	}
	row("limit met", "%s", whenMet(r))
	row("EWMA chart", "%s", alarmAt(s, r.EWMAAlarmAt))
	row("CUSUM chart", "%s", alarmAt(s, r.CUSUMAlarmAt))
	row("line through all", "%s", alarmAt(s, r.TrendAlarmAt))
	if !math.IsNaN(r.ChangeAt) && math.IsNaN(r.TrendSince) {
		row("change began about", "%s", atSeconds(s, r.ChangeAt))
	}
	if err := table.Flush(); err != nil {
		return err
	}
	for _, left := range []struct {
		count int
		why   string
	}{{r.Refused.WarmUp, "of the warm-up"}, {r.Refused.NotFinite, "too large for any instrument"}, {r.Refused.Backward, "older than the one before"}} {
		if left.count > 0 {
			fmt.Fprintf(w, "%d readings left out: %s\n", left.count, left.why)
		}
	}
	return nil
}

// seriesFigure is a figure, or that it was not measured.
func seriesFigure(x float64, unit device.Unit) string {
	if math.IsNaN(x) {
		return "not measured"
	}
	return checks.Figure(x, 0, unit)
}

// withInterval writes a figure with its interval behind: "12 mV [9 mV, 15 mV]".
func withInterval(x, low, high float64, write func(float64) string) string {
	if math.IsNaN(low) || math.IsInf(low, 0) || math.IsInf(high, 0) {
		return write(x)
	}
	return write(x) + " [" + write(low) + ", " + write(high) + "]"
}

func threeDigits(x float64) float64 {
	rounded, err := strconv.ParseFloat(strconv.FormatFloat(x, 'e', 2, 64), 64)
	if err != nil {
		return x
	}
	return rounded
}

func probability(p float64) string {
	switch {
	case math.IsNaN(p):
		return "not measured"
	case p < 0.0001:
		return "below 0.0001"
	default:
		return strconv.FormatFloat(threeDigits(p), 'f', -1, 64)
	}
}

// whenMet says in how long the limit is met, or why there is no such time.
func whenMet(r drift.Result) string {
	switch r.Outlook {
	case drift.NoTrend:
		return "no trend"
	case drift.NoLimit:
		return "there is no limit on that side"
	case drift.Ahead:
		return "in " + withInterval(r.HoursToLimit, r.HoursToLimitLow, r.HoursToLimitHigh, inHours)
	case drift.Passed:
		return "the line has met it already"
	default:
		return "too few readings for a trend"
	}
}

// inHours writes a time to come in the unit that a person plans by.
func inHours(hours float64) string {
	if hours < 1000 {
		return inWords(time.Duration(hours * float64(time.Hour)))
	}
	return fmt.Sprintf("%.0f days", hours/24)
}

func alarmAt(s device.Series, seconds float64) string {
	if math.IsNaN(seconds) {
		return "no alarm"
	}
	return "alarm at " + atSeconds(s, seconds)
}

// atSeconds is a time of the series: a moment where the file has moments.
func atSeconds(s device.Series, seconds float64) string {
	if s.Begin.IsZero() {
		return checks.Figure(seconds, 0, device.Second)
	}
	return s.Begin.Add(time.Duration(seconds * float64(time.Second))).Local().Format(dayAndTime)
}
