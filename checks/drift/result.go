package drift

import (
	"encoding/json"
	"math"
)

// Result is what is known of a series. Figures are in the values' unit, slopes per
// hour, times in seconds of the record; NaN where not known.
type Result struct {
	// N, Mean, SD and Lag1 are of all readings used.
	N              int
	Mean, SD, Lag1 float64
	// SlopePerHour is the least squares slope, with an interval that allows for
	// readings that resemble their neighbours.
	SlopePerHour, SlopeLow, SlopeHigh float64
	TheilSenPerHour                   float64
	// TrendSince is where the part of the record begins that slopes, test and hours to
	// the limit are of: where a chart has alarmed and one line does not do for all,
	// that is where the change began. NaN for the whole record.
	TrendSince float64
	// MannKendallP is two-sided. Where neighbours resemble each other more than chance
	// explains, its variance is raised as that of the slope is.
	MannKendallP float64
	// Outlook says what the hours to the limit mean, or why they are not known.
	Outlook                       Outlook
	HoursToLimit, HoursToLimitLow float64
	HoursToLimitHigh              float64
	EWMAAlarmAt, CUSUMAlarmAt     float64
	TrendAlarmAt                  float64
	// ChangeAt estimates when the level began to leave the baseline, for the first
	// alarm there is.
	ChangeAt float64
	// Baseline is what was learnt; HasBaseline is false while it is not.
	Baseline    Baseline
	HasBaseline bool
	Refused     Refused
}

const hour = 3600

// result works on the batch means, which are the readings themselves up to
// MaxBatches of them.
func (s *series) result() Result {
	nan := math.NaN()
	r := Result{
		N: s.stream.N(), Mean: s.stream.Mean(), SD: s.stream.SD(), Lag1: s.stream.Lag1(),
		SlopePerHour: nan, SlopeLow: nan, SlopeHigh: nan, TheilSenPerHour: nan, MannKendallP: nan,
		HoursToLimit: nan, HoursToLimitLow: nan, HoursToLimitHigh: nan,
		EWMAAlarmAt: nan, CUSUMAlarmAt: nan, TrendAlarmAt: nan, ChangeAt: nan,
		Baseline: s.baseline, HasBaseline: s.learnt, Refused: s.refused,
	}
	var slope Slope
	var err error
	if slope, r.TrendSince, err = s.slope(); err == nil {
		r.slope(slope, s.forecast(slope))
		r.trend(s, slope)
	}
	r.alarms(s.alarms())
	if since, raised := s.changeAt(); raised {
		r.ChangeAt = since
	}
	return r
}

func (s *series) slope() (slope Slope, since float64, err error) {
	t, v, since := s.trendPoints(MaxBatches)
	slope, err = SlopeOf(t, v, s.options.Confidence)
	return slope, since, err
}

func (s *series) forecast(slope Slope) Forecast {
	return ForecastLimit(slope, s.last, s.options.LowLimit, s.options.HighLimit)
}

func (r *Result) slope(s Slope, f Forecast) {
	r.SlopePerHour, r.SlopeLow, r.SlopeHigh = s.PerSecond*hour, s.Low*hour, s.High*hour
	r.Outlook = f.Outlook
	r.HoursToLimit, r.HoursToLimitLow, r.HoursToLimitHigh = f.Seconds/hour, f.Low/hour, f.High/hour
}

// trend sets the figures that come from pairs: of the readings themselves up to
// MaxBatches of them, of half as many batches for a longer record, whose pairs would
// take their time.
func (r *Result) trend(series *series, s Slope) {
	most := MaxBatches
	if series.batches.size > 1 {
		most = MaxBatches / 2
	}
	t, v, _ := series.trendPoints(most)
	if ts, err := TheilSenOf(t, v, s.confidence); err == nil {
		r.TheilSenPerHour = ts.PerSecond * hour
	}
	mk := MannKendallOf(v)
	if line, err := FitLine(t, v); err == nil && resemble(line.residuals(t, v)) {
		by := s.SE / line.SlopeSE
		mk = mk.Inflated(by * by)
	}
	r.MannKendallP = mk.P
}

// resemble tells whether neighbours are more alike than chance explains, at 5 %, as
// they are or as coarse means.
func resemble(residuals []float64) bool {
	significant := func(x []float64) bool {
		return autocorrelation(x, 1)*math.Sqrt(float64(len(x))) > 1.645
	}
	if significant(residuals) {
		return true
	}
	return len(residuals) >= 2*coarse && significant(merged(residuals, len(residuals)/coarse))
}

func (r *Result) alarms(all [alarmKinds]alarm) {
	for kind, at := range []*float64{EWMAAlarm: &r.EWMAAlarmAt, CUSUMAlarm: &r.CUSUMAlarmAt, TrendAlarm: &r.TrendAlarmAt} {
		if a := all[kind]; a.raised {
			*at = a.at
		}
	}
}

// number is null in JSON where it is not known.
type number float64

func (n number) MarshalJSON() ([]byte, error) {
	if x := float64(n); !math.IsNaN(x) && !math.IsInf(x, 0) {
		return json.Marshal(x)
	}
	return []byte("null"), nil
}

// MarshalJSON writes the figures; alarm times are seconds of the record, what is
// not known is null.
func (r Result) MarshalJSON() ([]byte, error) {
	return json.Marshal(struct {
		N                int    `json:"n"`
		Mean             number `json:"mean"`
		SD               number `json:"sd"`
		SlopePerHour     number `json:"slope_per_hour"`
		SlopeLow         number `json:"slope_low"`
		SlopeHigh        number `json:"slope_high"`
		TheilSenPerHour  number `json:"theil_sen_per_hour"`
		MannKendallP     number `json:"mann_kendall_p"`
		HoursToLimit     number `json:"hours_to_limit"`
		HoursToLimitLow  number `json:"hours_to_limit_low"`
		HoursToLimitHigh number `json:"hours_to_limit_high"`
		EWMAAlarmAt      number `json:"ewma_alarm_at"`
		CUSUMAlarmAt     number `json:"cusum_alarm_at"`
		TrendAlarmAt     number `json:"trend_alarm_at"`
	}{
		r.N, number(r.Mean), number(r.SD), number(r.SlopePerHour), number(r.SlopeLow), number(r.SlopeHigh),
		number(r.TheilSenPerHour), number(r.MannKendallP),
		number(r.HoursToLimit), number(r.HoursToLimitLow), number(r.HoursToLimitHigh),
		number(r.EWMAAlarmAt), number(r.CUSUMAlarmAt), number(r.TrendAlarmAt),
	})
}
