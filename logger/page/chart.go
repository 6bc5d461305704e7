package page

import (
	"soakline/checks"
	"soakline/logger/book"
)

// ChartView is what a chart shows. Times are seconds since 1970 UTC; those of a
// series count from its begin_s.
type ChartView struct {
	FromS  float64      `json:"from_s"`
	UntilS float64      `json:"until_s"`
	Series []SeriesView `json:"series"`
	// Soaks are those of the unit that touch the time.
	Soaks []SoakRecordView `json:"soaks"`
}

// ChartKind says what the columns of a series are.
type ChartKind string

// The kinds of chart.
const (
	// EnvelopeKind has low, high, mean and count of each interval; at_s is its middle.
	EnvelopeKind ChartKind = "envelope"
	// ReadingsKind has value of every single reading.
	ReadingsKind ChartKind = "readings"
)

// SeriesView is the readings of one measure at one test point by one instrument,
// as columns of one length. Unit is that of the figures, Of the unit measured.
type SeriesView struct {
	Of         string    `json:"of"`
	TestPoint  string    `json:"test_point"`
	Measure    string    `json:"measure"`
	Instrument string    `json:"instrument"`
	Unit       string    `json:"unit"`
	Kind       ChartKind `json:"kind"`
	BeginS     float64   `json:"begin_s"`
	AtS        Column    `json:"at_s"`
	Low        Column    `json:"low,omitempty"`
	High       Column    `json:"high,omitempty"`
	Mean       Column    `json:"mean,omitempty"`
	Count      []int64   `json:"count,omitempty"`
	Value      Column    `json:"value,omitempty"`
	// Readings is how many there are in the time.
	Readings   int64           `json:"readings"`
	Limit      *LimitView      `json:"limit"`
	Excursions []ExcursionView `json:"excursions"`
	Gaps       []GapView       `json:"gaps"`
}

// LimitView is what a sheet asks of a figure. Between low and accept_low, and
// between accept_high and high, lies the guard band.
type LimitView struct {
	Low        *float64 `json:"low"`
	High       *float64 `json:"high"`
	AcceptLow  *float64 `json:"accept_low"`
	AcceptHigh *float64 `json:"accept_high"`
	Nominal    *float64 `json:"nominal"`
	Source     string   `json:"source"`
	// Against says what is taken off a reading before the limit applies; empty if
	// it applies to the reading itself and can be drawn beside it.
	Against string `json:"against,omitempty"`
}

// viewLimit puts a check's limit into the form of the API, for figures with one
// standard uncertainty u.
func viewLimit(check checks.Check, u float64) *LimitView {
	limit := check.Limit
	view := &LimitView{Low: number(limit.Low), High: number(limit.High), Nominal: number(limit.Nominal), Source: limit.Source}
	if low, high, err := limit.AcceptanceInterval(u); err == nil {
		view.AcceptLow, view.AcceptHigh = number(low), number(high)
	}
	switch {
	case check.Against.Baseline:
		view.Against = "its own first readings"
	case check.Against.TestPoint != "":
		view.Against = string(check.Against.TestPoint)
	}
	return view
}

// setEnvelope puts buckets into columns.
func (v *SeriesView) setEnvelope(buckets []book.Bucket) {
	v.Kind = EnvelopeKind
	for _, b := range buckets {
		middle := b.From.Add(b.Until.Sub(b.From) / 2)
		v.AtS = append(v.AtS, offset(v.BeginS, middle))
		v.Low, v.High, v.Mean = append(v.Low, b.Low), append(v.High, b.High), append(v.Mean, rounded(b.Mean))
		v.Count = append(v.Count, b.Count)
	}
}

// add puts one reading into the columns.
func (v *SeriesView) add(r book.TaggedReading) {
	v.AtS, v.Value = append(v.AtS, offset(v.BeginS, r.At)), append(v.Value, r.Value)
}
