package metrics

import (
	"math"

	"github.com/prometheus/client_golang/prometheus"
)

func gauge(out chan<- prometheus.Metric, desc *prometheus.Desc, value float64, labels ...string) {
	out <- prometheus.MustNewConstMetric(desc, prometheus.GaugeValue, value, labels...)
}

func counter(out chan<- prometheus.Metric, desc *prometheus.Desc, value float64, labels ...string) {
	out <- prometheus.MustNewConstMetric(desc, prometheus.CounterValue, value, labels...)
}

// known gives a gauge, unless its value is not known or unbounded: a scraper must
// not find a number where there is none.
func known(out chan<- prometheus.Metric, desc *prometheus.Desc, value float64, labels ...string) {
	if math.IsNaN(value) || math.IsInf(value, 0) {
		return
	}
	gauge(out, desc, value, labels...)
}

func truth(is bool) float64 {
	if is {
		return 1
	}
	return 0
}
