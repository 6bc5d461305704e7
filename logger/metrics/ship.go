package metrics

import (
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"soakline/logger/ship"
)

// shipping is what the collector needs of a shipper.
type shipping interface{ Status() []ship.Status }

// shipCollector asks a shipper at each scrape.
type shipCollector struct {
	bench   string
	shipper shipping
	now     func() time.Time
}

var _ prometheus.Collector = (*shipCollector)(nil)

// Ship returns a collector of how the shipping of a bench's book fares.
func Ship(bench string, shipper *ship.Shipper) prometheus.Collector {
	return &shipCollector{bench: bench, shipper: shipper, now: time.Now}
}

// Describe lists every metric that Collect may give.
func (c *shipCollector) Describe(out chan<- *prometheus.Desc) {
	for _, desc := range []*prometheus.Desc{shipPendingDesc, shipLagDesc, shipLinesDesc, shipRefusedDesc, shipUpDesc} {
		out <- desc
	}
}

// Collect asks how each target fares now.
func (c *shipCollector) Collect(out chan<- prometheus.Metric) {
	for _, s := range c.shipper.Status() {
		labels := []string{c.bench, s.Target}
		lag := 0.0
		if !s.Oldest.IsZero() {
			lag = c.now().Sub(s.Oldest).Seconds()
		}
		gauge(out, shipPendingDesc, float64(s.Pending), labels...)
		gauge(out, shipLagDesc, lag, labels...)
		gauge(out, shipUpDesc, truth(s.Trouble == ""), labels...)
		counter(out, shipLinesDesc, float64(s.Lines), labels...)
		counter(out, shipRefusedDesc, float64(s.Refused), labels...)
	}
}
