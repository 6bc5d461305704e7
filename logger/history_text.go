package logger

import (
	"fmt"
	"math"
	"strconv"
	"time"

	"soakline/checks"
	"soakline/checks/drift"
	"soakline/device"
)

// MonthsText says a trend over months in words, towards a limit (NaN for none):
// "falls 12 µF a month [8 µF, 16 µF], meets 1760 µF on 2029-03-14 [2028-07-02,
// 2031-01-20]", "no trend", "too few figures for a trend (3 of 4)".
func MonthsText(t drift.MonthsTrend, limit float64, unit device.Unit) string {
	switch t.Outlook {
	case drift.NotKnown:
		if t.N < drift.LeastForMonths {
			return fmt.Sprintf("too few figures for a trend (%d of %d)", t.N, drift.LeastForMonths)
		}
		return "all figures are of one time"
	case drift.NoTrend:
		return "no trend"
	}
	verb, low, high := "rises", t.PerMonthLow, t.PerMonthHigh
	if t.PerMonth < 0 {
		verb, low, high = "falls", -t.PerMonthHigh, -t.PerMonthLow
	}
	figure := func(x float64) string { return checks.Figure(threeDigits(x), 0, unit) }
	text := fmt.Sprintf("%s %s a month [%s, %s]", verb, figure(math.Abs(t.PerMonth)), figure(low), figure(high))
	switch t.Outlook {
	case drift.NoLimit:
		return text + "; there is no limit on that side"
	case drift.Passed:
		return text + ", and its line has met " + checks.Figure(limit, 0, unit) + " already"
	default:
		return fmt.Sprintf("%s, meets %s on %s [%s, %s]", text, checks.Figure(limit, 0, unit), dayText(t.ReachedAt), dayText(t.Earliest), dayText(t.Latter))
	}
}

// threeDigits rounds to about what a slope is known to.
func threeDigits(x float64) float64 {
	rounded, err := strconv.ParseFloat(strconv.FormatFloat(x, 'e', 2, 64), 64)
	if err != nil {
		return x
	}
	return rounded
}

// dayText writes a day to come; nobody plans beyond a century.
func dayText(at time.Time) string {
	if at.Year() > 2199 {
		return "after 2199"
	}
	return at.Format(time.DateOnly)
}

// Text says the trend of a course in words.
func (c HistoryCourse) Text() string {
	limit := c.Limit.High
	if c.Trend.PerMonth < 0 {
		limit = c.Limit.Low
	}
	if !c.Asked {
		limit = math.NaN()
	}
	return MonthsText(c.Trend, limit, c.Check.Measure.Unit())
}
