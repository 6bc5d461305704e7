package drift

import (
	"math"
	"time"
)

// Month is the mean month of the calendar.
const Month = time.Duration(365.2425 / 12 * 24 * float64(time.Hour))

// LeastForMonths is how many figures a trend over months takes: a line, its spread
// and one more.
const LeastForMonths = 4

// MonthsTrend is the course of one figure over months or years, of few measurements
// at any times. Slopes are per month; what is not known is NaN.
type MonthsTrend struct {
	N int
	// PerMonth is the least squares slope with its interval, TheilSenPerMonth the
	// median one, MannKendallP the probability of such a rank correlation without a
	// trend.
	PerMonth, PerMonthLow, PerMonthHigh         float64
	TheilSenPerMonth, TheilSenLow, TheilSenHigh float64
	MannKendallP                                float64
	// Outlook says whether the limit will be met; NotKnown with too few figures. The
	// times are set if it is ahead or passed.
	Outlook                     Outlook
	ReachedAt, Earliest, Latter time.Time
}

// NoMonthsTrend is the trend of n figures that are too few, or all of one time.
func NoMonthsTrend(n int) MonthsTrend {
	nan := math.NaN()
	return MonthsTrend{N: n, PerMonth: nan, PerMonthLow: nan, PerMonthHigh: nan,
		TheilSenPerMonth: nan, TheilSenLow: nan, TheilSenHigh: nan, MannKendallP: nan}
}

// MonthsTrendOf follows finite values at times in rising order to the limits, nil
// where there is none. A line that the rank test, with six values and more, does not
// bear out is no trend.
func MonthsTrendOf(at []time.Time, values []float64, low, high *float64, confidence float64) MonthsTrend {
	t := NoMonthsTrend(len(values))
	if t.N < LeastForMonths {
		return t
	}
	seconds := make([]float64, t.N)
	for i := range at {
		seconds[i] = at[i].Sub(at[0]).Seconds()
	}
	slope, err := monthsSlope(seconds, values, confidence)
	if err != nil {
		return t // all at one time
	}
	month := Month.Seconds()
	t.PerMonth, t.PerMonthLow, t.PerMonthHigh = slope.PerSecond*month, slope.Low*month, slope.High*month
	if s, err := TheilSenOf(seconds, values, confidence); err == nil {
		t.TheilSenPerMonth, t.TheilSenLow, t.TheilSenHigh = s.PerSecond*month, s.Low*month, s.High*month
	}
	t.MannKendallP = MannKendallOf(values).P
	f := ForecastLimit(slope, seconds[t.N-1], low, high)
	if t.Outlook = f.Outlook; t.Outlook != NoTrend && t.ranksDisagree(confidence) {
		t.Outlook = NoTrend
	}
	if t.Outlook == Ahead || t.Outlook == Passed {
		last := at[t.N-1]
		t.ReachedAt, t.Earliest, t.Latter = after(last, f.Seconds), after(last, f.Low), after(last, f.High)
	}
	return t
}

// monthsSlope takes measurements of different days as independent unless their
// residuals resemble each other more than chance explains: among so few, the
// allowance of SlopeOf would leave nothing of any trend.
func monthsSlope(seconds, values []float64, confidence float64) (Slope, error) {
	line, err := FitLine(seconds, values)
	if err != nil {
		return Slope{}, err
	}
	if resemble(line.residuals(seconds, values)) {
		return SlopeOf(seconds, values, confidence)
	}
	return slopeWith(line, 0, confidence), nil
}

// leastForRanks is how many values the rank test takes to see a trend at all.
const leastForRanks = 6

func (t MonthsTrend) ranksDisagree(confidence float64) bool {
	return t.N >= leastForRanks && t.MannKendallP > 1-confidence
}

// farthest is where a forecast ends: nobody plans beyond, and times overflow.
const farthest = 200 * 12 * Month

func after(last time.Time, seconds float64) time.Time {
	return last.Add(time.Duration(min(seconds*float64(time.Second), float64(farthest))))
}
