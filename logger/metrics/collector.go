package metrics

import (
	"context"
	"net/http"
	"slices"
	"strings"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"

	"soakline/checks"
	"soakline/checks/drift"
	"soakline/device"
	"soakline/logger"
	"soakline/logger/book"
)

// source is what the collector needs of a bench.
type source interface {
	Snapshot(ctx context.Context) (logger.Snapshot, error)
}

// tallies is what the collector needs of a bench's counters.
type tallies interface {
	Series() map[book.Tag]logger.Tally
	Excursions() map[logger.ExcursionKey]uint64
	Troubles() map[logger.Trouble]uint64
	Losses() map[string]uint64
}

var _ tallies = (*logger.Counters)(nil)

// collector asks the bench at each scrape; it keeps nothing itself.
type collector struct {
	bench    source
	counters tallies
}

var _ prometheus.Collector = (*collector)(nil)

// patience is how long a scrape waits for the bench.
const patience = 5 * time.Second

// NewHandler returns what answers /metrics, in the text or the OpenMetrics form as
// the scraper asks for. It observes the bench's commits from then on. Also are
// collectors of what goes on beside the bench.
func NewHandler(bench *logger.Bench, also ...prometheus.Collector) http.Handler {
	commits := prometheus.NewHistogram(prometheus.HistogramOpts{Name: "soakline_book_commit_seconds",
		Help: "How long the book's commits took.", Buckets: prometheus.ExponentialBuckets(0.0005, 2, 15)})
	bench.Counters.OnCommit(func(took time.Duration) { commits.Observe(took.Seconds()) })
	return handlerOf(append(also, &collector{bench: bench, counters: bench.Counters}, commits,
		collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))...)
}

// handlerOf answers with what collectors give.
func handlerOf(all ...prometheus.Collector) http.Handler {
	registry := prometheus.NewRegistry()
	registry.MustRegister(all...)
	return promhttp.HandlerFor(registry, promhttp.HandlerOpts{EnableOpenMetrics: true})
}

// Describe lists every metric that Collect may give.
func (c *collector) Describe(out chan<- *prometheus.Desc) {
	for _, descs := range []map[device.Unit]*prometheus.Desc{readingDescs, limitDescs, driftDescs} {
		for _, desc := range descs {
			out <- desc
		}
	}
	for _, desc := range []*prometheus.Desc{stateDesc, readingsDesc, excursionsDesc, errorsDesc, lostDesc, portUpDesc,
		reopensDesc, driftAlarmDesc, secondsToLimitDesc, progressDesc, evidenceDesc, verdictDesc, pendingDesc} {
		out <- desc
	}
}

// Collect asks the bench how it stands now.
func (c *collector) Collect(out chan<- prometheus.Metric) {
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	defer cancel()
	snapshot, err := c.bench.Snapshot(ctx)
	if err != nil {
		out <- prometheus.NewInvalidMetric(stateDesc, err)
		return
	}
	for _, soak := range snapshot.Soaks {
		collectSoak(out, snapshot.Bench, soak)
	}
	for _, finished := range snapshot.Finished {
		labels := []string{snapshot.Bench, string(finished.Console), string(finished.Unit)}
		collectVerdict(out, labels, finished.Verdict.Outcome)
	}
	for _, instrument := range snapshot.Instruments {
		gauge(out, portUpDesc, truth(instrument.Up), snapshot.Bench, instrument.Instrument)
		counter(out, reopensDesc, float64(instrument.Reopens), snapshot.Bench, instrument.Instrument)
	}
	gauge(out, pendingDesc, float64(snapshot.Book.Pending), snapshot.Bench)
	c.collectCounters(out, snapshot)
}

// collectCounters gives what has been counted since the start.
func (c *collector) collectCounters(out chan<- prometheus.Metric, snapshot logger.Snapshot) {
	for tag, tally := range c.counters.Series() {
		counter(out, readingsDesc, float64(tally.Readings), tag.Bench, string(tag.Console), string(tag.Unit),
			string(tag.TestPoint), tag.Instrument, string(tag.Measure))
	}
	for key, n := range c.counters.Excursions() {
		counter(out, excursionsDesc, float64(n), snapshot.Bench, string(key.Unit), string(key.Check.TestPoint), string(key.Check.Measure), string(key.State))
	}
	for trouble, n := range c.counters.Troubles() {
		counter(out, errorsDesc, float64(n), trouble.Instrument, string(trouble.Kind))
	}
	losses := c.counters.Losses()
	for cause, n := range snapshot.Book.Lost {
		if _, counted := losses[cause]; !counted { // the book's writer counts the others
			losses[cause] = n
		}
	}
	for cause, n := range losses {
		counter(out, lostDesc, float64(n), cause)
	}
}

func collectSoak(out chan<- prometheus.Metric, bench string, soak logger.SoakStatus) {
	labels := []string{bench, string(soak.Console), string(soak.Unit)}
	gauge(out, progressDesc, soak.Progress, labels...)
	known(out, evidenceDesc, soak.Evidence, labels...)
	collectVerdict(out, labels, soak.SoFar)
	for _, check := range soak.Checks {
		labels := and(labels, string(check.Check.TestPoint), check.Instrument, string(check.Check.Measure))
		unit := check.Check.Measure.Unit()
		if check.State != checks.Silent {
			known(out, readingDescs[unit], check.Value, labels...)
		}
		known(out, limitDescs[unit], check.Limit.Low, and(labels, string(checks.LowEdge))...)
		known(out, limitDescs[unit], check.Limit.High, and(labels, string(checks.HighEdge))...)
		for _, state := range checks.States() {
			gauge(out, stateDesc, truth(state == check.State), and(labels, string(state))...)
		}
		if check.Drift != nil {
			collectDrift(out, labels, *check.Drift)
		}
	}
}

func collectDrift(out chan<- prometheus.Metric, labels []string, s checks.DriftStanding) {
	known(out, driftDescs[s.Check.Measure.Unit()], s.PerHour, labels...)
	known(out, secondsToLimitDesc, s.SecondsToLimit, labels...)
	for _, chart := range []drift.AlarmKind{drift.EWMAAlarm, drift.CUSUMAlarm, drift.TrendAlarm} {
		alarmed := slices.ContainsFunc(s.Alarms, func(a drift.Alarm) bool { return a.Kind == chart })
		gauge(out, driftAlarmDesc, truth(alarmed), and(labels, strings.ToLower(chart.String()))...)
	}
}

func collectVerdict(out chan<- prometheus.Metric, labels []string, outcome checks.Outcome) {
	for _, candidate := range []checks.Outcome{checks.Pass, checks.Fail, checks.Undecided} {
		gauge(out, verdictDesc, truth(candidate == outcome), and(labels, string(candidate))...)
	}
}
