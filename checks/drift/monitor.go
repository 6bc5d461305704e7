package drift

import (
	"fmt"
	"math"
	"time"
)

// Event is what a reading brought about; 0 where nothing. Several may be set.
type Event uint8

// Events.
const (
	// RefusedReading: the reading is not a number, or older than the one before.
	RefusedReading Event = 1 << iota
	// LearntBaseline: the charts begin after this reading.
	LearntBaseline
	// RaisedEWMA and RaisedCUSUM: the chart alarms for the first time.
	RaisedEWMA
	RaisedCUSUM
	// RaisedTrend: the whole record tilts, for the first time.
	RaisedTrend
)

// Alarm is the first alarm of a chart.
type Alarm struct {
	Kind AlarmKind
	// At is the time of the reading at which it was raised, Since the estimate of
	// when the change began.
	At, Since time.Time
	// By is how far the level is from the baseline, with its sign, in the values'
	// unit.
	By float64
}

// Monitor follows one series during a soak, reading by reading, in constant memory
// and without allocating. What it finds depends on the readings, their order and
// their times to the microsecond alone, so a replay from the book finds the same.
// It is not for use by several goroutines at once.
type Monitor struct {
	series series
	origin int64 // microseconds since 1970 of the first reading
	begun  bool
}

// NewMonitor returns a monitor that waits for its first reading, or an error that
// tells every mistake in the options.
func NewMonitor(o Options) (*Monitor, error) {
	if err := o.Validate(); err != nil {
		return nil, fmt.Errorf("watch for drift: %w", err)
	}
	return &Monitor{series: newSeries(o)}, nil
}

// Observe takes one reading. A reading that is not a finite number, or older than
// the one before it, is counted and otherwise without effect; one of the same time
// is used.
func (m *Monitor) Observe(at time.Time, value float64) Event {
	stamp := at.UnixMicro()
	if !m.begun && usable(value) {
		m.origin, m.begun = stamp, true
	}
	return m.series.add(float64(stamp-m.origin)/1e6, value)
}

// Refused returns how many readings were not used, and why.
func (m *Monitor) Refused() Refused { return m.series.refused }

// Baseline returns what the beginning taught; false while it is not known.
func (m *Monitor) Baseline() (Baseline, bool) { return m.series.baseline, m.series.learnt }

// Alarms returns the first alarm of each chart that raised one.
func (m *Monitor) Alarms() []Alarm {
	var all []Alarm
	for kind, a := range m.series.alarms() {
		if a.raised {
			all = append(all, Alarm{
				Kind: AlarmKind(kind), At: m.time(a.at), Since: m.time(a.since), By: a.by,
			})
		}
	}
	return all
}

// Result returns all figures up to now; its times are seconds since the first
// reading. It takes some milliseconds, nearly all for the pairs of the rank test and
// the median slope; Trend is for asking often.
func (m *Monitor) Result() Result { return m.series.result() }

// Trend returns the least squares slope and the time to the limit, as in Result, and
// since when: where the change began that a chart has alarmed at, if one line does
// not do for what was before as well, else the zero time. It fails with ErrTooFew
// while there are too few readings.
func (m *Monitor) Trend() (Slope, Forecast, time.Time, error) {
	slope, seconds, err := m.series.slope()
	var since time.Time
	if !math.IsNaN(seconds) {
		since = m.time(seconds)
	}
	return slope, m.series.forecast(slope), since, err
}

func (m *Monitor) time(seconds float64) time.Time {
	return time.UnixMicro(m.origin + int64(seconds*1e6+0.5)).UTC()
}
