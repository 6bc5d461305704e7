package drift

// AlarmKind is what raised an alarm.
type AlarmKind int

// The two charts, and the line through all readings.
const (
	EWMAAlarm AlarmKind = iota
	CUSUMAlarm
	TrendAlarm
	alarmKinds
)

func (k AlarmKind) String() string { return [...]string{"EWMA", "CUSUM", "trend"}[k] }

// change is what a chart has seen: since when, how far from the target, and the mean
// of about how many readings that is.
type change struct {
	since, by float64
	readings  int
}

// alarm is the first alarm of a chart; times in seconds of the record.
type alarm struct {
	raised    bool
	at, since float64
	by        float64 // how far from the target, in the values' unit
}

// targetSlack is how many standard uncertainties of a learnt target a CUSUM leaves
// out of its sums: a target that is off would else be a shift for ever.
const targetSlack = 2.5

// chart averages readings to batches and follows the averages with both charts.
type chart struct {
	target    float64
	size      int
	sum       float64 // about the target
	n         int
	begin     float64
	ewma      EWMA
	cusum     CUSUM
	highSince float64
	lowSince  float64
	alarms    [2]alarm
}

func newChart(b Baseline, o Options) chart {
	wider := studentWidening(o.Width, b.Independent)
	floor := max(o.SmallestShift, b.Floor)
	slack := float64(o.Slack*b.LongRunSD) + float64(targetSlack*wider*b.TargetU)
	return chart{
		target: b.Target, size: b.BatchSize,
		ewma: NewEWMA(EWMAPlan{
			Lambda: o.Lambda, Width: o.Width * wider, Target: 0, Sigma: b.batchSD,
			Autocorrelation: b.batchAutocorrelation(), TargetU: b.TargetU, Floor: floor, Early: true,
		}),
		cusum: NewCUSUM(0, max(slack, floor/2), max(o.Threshold*wider*b.LongRunSD, 2*floor)),
	}
}

// add takes a reading and reports which charts it raised for the first time.
func (c *chart) add(t, x float64, confirm func(AlarmKind, change) bool) (raised [2]bool) {
	if c.n == 0 {
		c.begin = t
	}
	c.sum += x - c.target
	if c.n++; c.n < c.size {
		return raised
	}
	value := c.sum / float64(c.size)
	c.sum, c.n = 0, 0
	beyond := c.ewma.Add(value)
	side := c.cusum.Add(value)
	c.followRuns()
	if beyond {
		by := c.ewma.Average()
		seen := change{since: c.sinceFor(by > 0), by: by, readings: c.size * int(2/c.ewma.plan.Lambda-1)}
		raised[EWMAAlarm] = c.raise(EWMAAlarm, t, seen, confirm)
	}
	if side != 0 {
		by, run := c.shift(side > 0)
		seen := change{since: c.sinceFor(side > 0), by: by, readings: c.size * run}
		raised[CUSUMAlarm] = c.raise(CUSUMAlarm, t, seen, confirm)
	}
	return raised
}

func (c *chart) raise(kind AlarmKind, t float64, seen change, confirm func(AlarmKind, change) bool) bool {
	if c.alarms[kind].raised || !confirm(kind, seen) {
		return false
	}
	c.alarms[kind] = alarm{raised: true, at: t, since: seen.since, by: seen.by}
	return true
}

func (c *chart) followRuns() {
	high, low := c.cusum.Runs()
	if high <= 1 {
		c.highSince = c.begin
	}
	if low <= 1 {
		c.lowSince = c.begin
	}
}

// sinceFor is when the sum of a side last left zero: the estimate of the time of
// change (common practice).
func (c *chart) sinceFor(up bool) float64 {
	if up {
		return c.highSince
	}
	return c.lowSince
}

// shift estimates the mean deviation since then, slack + sum / run (common
// practice), with its sign, and returns the run in charted values. The sum of that
// side must be above zero.
func (c *chart) shift(up bool) (by float64, run int) {
	high, low := c.cusum.Sums()
	highRun, lowRun := c.cusum.Runs()
	if up {
		return c.cusum.slack + high/float64(highRun), highRun
	}
	return -(c.cusum.slack + low/float64(lowRun)), lowRun
}
