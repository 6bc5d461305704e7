package drift

import "math"

// Outlook is what can be said about the time to a limit.
type Outlook int

// What can be said about the time to a limit.
const (
	// NotKnown: too few readings for a slope.
	NotKnown Outlook = iota
	// NoTrend: the slope's interval holds zero.
	NoTrend
	// NoLimit: the series has no limit on the side that it moves to.
	NoLimit
	// Ahead: the limit will be met if nothing changes.
	Ahead
	// Passed: the fitted line has met the limit already.
	Passed
)

func (o Outlook) String() string {
	return [...]string{"not known", "no trend", "no limit on that side", "ahead", "passed"}[o]
}

// Forecast is the time from now to a limit. Seconds, Low and High are NaN unless
// the outlook is Ahead or Passed; none is below zero.
type Forecast struct {
	Outlook            Outlook
	Seconds, Low, High float64
}

// ForecastLimit says when the fitted line meets the limit that it moves to, counted
// from now (in the seconds of the slope's record). low and high are the limits, nil
// where there is none. The interval is that of a ratio of two uncertain figures at
// the slope's confidence (Fieller 1954; from memory). It is finite exactly where
// the slope's interval leaves out zero.
func ForecastLimit(s Slope, now float64, low, high *float64) Forecast {
	none := Forecast{Seconds: math.NaN(), Low: math.NaN(), High: math.NaN()}
	limit := high
	if s.PerSecond < 0 {
		limit = low
	}
	switch {
	case s.line.N == 0:
		return none
	case !s.Trend():
		none.Outlook = NoTrend
		return none
	case limit == nil:
		none.Outlook = NoLimit
		return none
	}
	q := studentQuantile((1+s.confidence)/2, s.Freedom)
	reach := q * s.SE
	levelReach := reach * math.Sqrt(s.line.sxx/(s.Freedom+2))
	away := *limit - s.line.yMean
	lead := float64(s.PerSecond*s.PerSecond) - float64(reach*reach)
	middle := away * s.PerSecond / lead
	half := math.Sqrt(float64(reach*reach*away*away)+float64(levelReach*levelReach*lead)) / lead
	since := now - s.line.xMean
	f := Forecast{
		Outlook: Ahead, Seconds: away/s.PerSecond - since,
		Low: max(0, middle-half-since), High: max(0, middle+half-since),
	}
	if f.Seconds <= 0 {
		f.Outlook, f.Seconds = Passed, 0
		f.Low = 0
	}
	return f
}
