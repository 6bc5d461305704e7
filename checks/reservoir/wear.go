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

// Trend is the course of one figure. PerMonth is the least squares slope with its
// interval, TheilSenPerMonth the median one, MannKendallP the probability of such a
// rank correlation without a trend; NaN where there are too few measurements.
type Trend struct {
	N int
	// First and Latest are the first and last figure, at the reference temperature
	// where temperatures are known.
	First, Latest                               float64
	PerMonth, PerMonthLow, PerMonthHigh         float64
	TheilSenPerMonth, TheilSenLow, TheilSenHigh float64
	MannKendallP                                float64
	// PerCelsius is the relative change for each degree that was taken out.
	PerCelsius float64
	// Limit is the end of life, NaN without one. Outlook says whether it will be
	// reached; the times are set if it is ahead or passed.
	Limit                       float64
	Outlook                     drift.Outlook
	ReachedAt, Earliest, Latter time.Time

	kind figureKind
}

// month is the mean month of the calendar in seconds.
const month = 365.2425 / 12 * 24 * 3600

// leastForTrend is how many measurements a trend takes: a line, its spread and one
// more.
const leastForTrend = 4

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
	seconds, values, celsius []float64
	zero                     time.Time
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
		if len(c.values) == 0 {
			c.zero = h.At
		}
		if math.IsNaN(h.Celsius) {
			c.noTemperature++
		}
		c.seconds = append(c.seconds, h.At.Sub(c.zero).Seconds())
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
	t := Trend{First: n, Latest: n, PerMonth: n, PerMonthLow: n, PerMonthHigh: n, TheilSenPerMonth: n,
		TheilSenLow: n, TheilSenHigh: n, MannKendallP: n, PerCelsius: n, Limit: n, kind: kind}
	if kind.limit > 0 {
		t.Limit = kind.limit
	}
	c := courseOf(history, kind)
	if c.leftOut > 0 {
		w.add(codeNotComparing, checks.Borderline, c.leftOut)
	}
	t.N = len(c.values)
	if t.N == 0 {
		return t
	}
	t.PerCelsius = c.normalise(kind.perDegree, o.ReferenceCelsius)
	if c.noTemperature > 0 && c.noTemperature < t.N {
		w.add(codeNoTemps, checks.Borderline, c.noTemperature, t.N)
	}
	t.First, t.Latest = c.values[0], c.values[t.N-1]
	if worn := t.atLimit(); worn {
		w.add(codeWorn, checks.Outside, kind.name, figureText(t.Latest, kind.unit), figureText(t.Limit, kind.unit), o.Limits.Source)
	}
	if t.N < leastForTrend {
		w.add(codeTooFewSoaks, checks.Within, kind.name, t.N)
		return t
	}
	t.follow(c, o)
	w.tell(t, c, o)
	return t
}

func (t Trend) atLimit() bool {
	if t.kind.low {
		return t.Latest <= t.Limit
	}
	return t.Latest >= t.Limit
}

// follow takes the slopes and the forecast.
func (t *Trend) follow(c course, o WearOptions) {
	slope, err := drift.SlopeOf(c.seconds, c.values, o.Confidence)
	if err != nil {
		return // all at one time
	}
	t.PerMonth, t.PerMonthLow, t.PerMonthHigh = slope.PerSecond*month, slope.Low*month, slope.High*month
	if s, err := drift.TheilSenOf(c.seconds, c.values, o.Confidence); err == nil {
		t.TheilSenPerMonth, t.TheilSenLow, t.TheilSenHigh = s.PerSecond*month, s.Low*month, s.High*month
	}
	t.MannKendallP = drift.MannKendallOf(c.values).P
	var low, high *float64
	if t.Limit > 0 && t.kind.low {
		low = &t.Limit
	} else if t.Limit > 0 {
		high = &t.Limit
	}
	now := c.seconds[len(c.seconds)-1]
	f := drift.ForecastLimit(slope, now, low, high)
	t.Outlook = f.Outlook
	if t.Outlook == drift.Ahead && t.ranksDisagree(o.Confidence) {
		t.Outlook = drift.NoTrend
	}
	if t.Outlook == drift.Ahead || t.Outlook == drift.Passed {
		at := func(seconds float64) time.Time { return later(c.zero, now+seconds) }
		t.ReachedAt, t.Earliest, t.Latter = at(f.Seconds), at(f.Low), at(f.High)
	}
}

// ranksDisagree tells whether the rank test sees no trend where it has values enough
// to see one.
func (t Trend) ranksDisagree(confidence float64) bool {
	return t.N >= 6 && t.MannKendallP > 1-confidence
}

// farthest is where a forecast ends: nobody plans beyond, and times overflow.
const farthest = 200 * 12 * month

func later(zero time.Time, seconds float64) time.Time {
	return zero.Add(time.Duration(min(seconds, farthest) * float64(time.Second)))
}

// tell says what the trend means.
func (w *Wear) tell(t Trend, c course, o WearOptions) {
	switch t.Outlook {
	case drift.NoTrend:
		w.add(codeNoTrend, checks.Within, t.kind.name, figureText(t.PerMonth, t.kind.unit))
	case drift.Ahead:
		last := later(c.zero, c.seconds[len(c.seconds)-1])
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
