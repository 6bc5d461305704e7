package reservoir

import (
	"fmt"
	"math"
	"slices"
	"time"

	"soakline/checks"
	"soakline/checks/drift"
	"soakline/device"
)

// Wear is how a capacitor has changed over its measurements.
type Wear struct {
	Capacitance, ESR, Leakage Trend
	Findings                  []checks.Finding
}

// Trend is the course of one figure over its measurements.
type Trend struct {
	drift.MonthsTrend
	// First and Latest are the first and last figure, at the reference temperature
	// where temperatures are known.
	First, Latest float64
	// Points are all figures that were compared, in the order of time.
	Points []TrendPoint
	// PerCelsius is the relative change for each degree that was taken out.
	PerCelsius float64
	// Limit is the end of life, NaN without one.
	Limit float64

	kind figureKind
}

// TrendPoint is one figure as it was compared: Value at the reference temperature
// where both temperatures are known, Celsius the part's own; NaN where it is not.
type TrendPoint struct {
	At             time.Time
	Value, Celsius float64
}

// month is the mean month of the calendar in seconds.
var month = drift.Month.Seconds()

// figureKind is which figure a trend is of.
type figureKind struct {
	name      string
	unit      device.Unit
	of        func(Health) float64
	limit     float64
	low       bool // the limit is the low end
	perDegree float64
}

// AnalyseWear compares the measurements of one capacitor, in any order, and
// says when its limits are met if nothing changes. Figures that are not numbers or
// not above 0 are counted and left out. It fails if the options are wrong.
func AnalyseWear(history []Health, o WearOptions) (Wear, error) {
	if err := o.Validate(); err != nil {
		return Wear{}, fmt.Errorf("analyse wear: %w", err)
	}
	if o.Confidence == 0 {
		o.Confidence = 0.95
	}
	history = slices.Clone(history)
	slices.SortStableFunc(history, func(a, b Health) int { return a.At.Compare(b.At) })
	w := Wear{}
	w.Capacitance = w.trend(history, o, figureKind{"capacitance", device.Farad,
		func(h Health) float64 { return h.CapacitanceFarads }, o.Limits.LowFarads, true, o.CapacitancePerCelsius})
	w.ESR = w.trend(history, o, figureKind{"series resistance", device.Ohm,
		func(h Health) float64 { return h.ESROhms }, o.Limits.HighESROhms, false, o.ESRPerCelsius})
	w.Leakage = w.trend(history, o, figureKind{"leakage", device.Ampere,
		func(h Health) float64 { return h.LeakageAmperes }, o.Limits.HighLeakageAmperes, false, o.LeakagePerCelsius})
	return w, nil
}

// course is one figure over time, ready to be compared.
type course struct {
	at                       []time.Time
	seconds, values, celsius []float64 // seconds since the first
	leftOut, noTemperature   int
}

func courseOf(history []Health, kind figureKind) course {
	c := course{}
	for _, h := range history {
		v := kind.of(h)
		if math.IsNaN(v) {
			continue // not measured that time
		}
		if !(v > 0) || math.IsInf(v, 0) {
			c.leftOut++
			continue
		}
		if math.IsNaN(h.Celsius) {
			c.noTemperature++
		}
		c.at = append(c.at, h.At)
		c.seconds = append(c.seconds, h.At.Sub(c.at[0]).Seconds())
		c.values = append(c.values, v)
		c.celsius = append(c.celsius, h.Celsius)
	}
	return c
}

func (w *Wear) add(code checks.FindingCode, state checks.State, args ...any) {
	w.Findings = append(w.Findings, find(code, state, args...))
}

// trend follows one figure.
func (w *Wear) trend(history []Health, o WearOptions, kind figureKind) Trend {
	n := math.NaN()
	c := courseOf(history, kind)
	t := Trend{MonthsTrend: drift.NoMonthsTrend(len(c.values)), First: n, Latest: n, PerCelsius: n, Limit: n, kind: kind}
	if kind.limit > 0 {
		t.Limit = kind.limit
	}
	if c.leftOut > 0 {
		w.add(codeNotComparing, checks.Borderline, c.leftOut)
	}
	if t.N == 0 {
		return t
	}
	t.PerCelsius = c.normalise(kind.perDegree, o.ReferenceCelsius)
	if c.noTemperature > 0 && c.noTemperature < t.N {
		w.add(codeNoTemps, checks.Borderline, c.noTemperature, t.N)
	}
	t.First, t.Latest = c.values[0], c.values[t.N-1]
	for i, v := range c.values {
		t.Points = append(t.Points, TrendPoint{At: c.at[i], Value: v, Celsius: c.celsius[i]})
	}
	if worn := t.atLimit(); worn {
		w.add(codeWorn, checks.Outside, kind.name, figureText(t.Latest, kind.unit), figureText(t.Limit, kind.unit), o.Limits.Source)
	}
	if t.N < drift.LeastForMonths {
		w.add(codeTooFewSoaks, checks.Within, kind.name, t.N)
		return t
	}
	t.follow(c, o)
	w.tell(t, c.at[t.N-1], o)
	return t
}

// follow takes the slopes and the forecast.
func (t *Trend) follow(c course, o WearOptions) {
	var low, high *float64
	if t.Limit > 0 && t.kind.low {
		low = &t.Limit
	} else if t.Limit > 0 {
		high = &t.Limit
	}
	t.MonthsTrend = drift.MonthsTrendOf(c.at, c.values, low, high, o.Confidence)
}

func (t Trend) atLimit() bool {
	if t.kind.low {
		return t.Latest <= t.Limit
	}
	return t.Latest >= t.Limit
}

// tell says what the trend means.
func (w *Wear) tell(t Trend, last time.Time, o WearOptions) {
	switch t.Outlook {
	case drift.NoTrend:
		w.add(codeNoTrend, checks.Within, t.kind.name, figureText(t.PerMonth, t.kind.unit))
	case drift.Ahead:
		w.add(codeWearing, checks.Borderline, t.kind.name, figureText(t.PerMonth, t.kind.unit), figureText(t.Limit, t.kind.unit), o.Limits.Source,
			monthsText(t.ReachedAt.Sub(last)), monthsText(t.Earliest.Sub(last)), monthsText(t.Latter.Sub(last)))
	}
}

func figureText(x float64, unit device.Unit) string { return checks.Figure(rounded(x), 0, unit) }

// monthsText says a long time as at the bench: 1 y 10 months.
func monthsText(d time.Duration) string {
	months := int(d.Seconds()/month + 0.5)
	switch {
	case months >= 100*12:
		return "more than 100 y"
	case months >= 12:
		return fmt.Sprintf("%d y %d months", months/12, months%12)
	case months == 1:
		return "1 month"
	}
	return fmt.Sprintf("%d months", months)
}
