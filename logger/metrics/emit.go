package metrics

import (
	"math"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/prometheus/client_golang/prometheus"
)

func gauge(out chan<- prometheus.Metric, desc *prometheus.Desc, value float64, labels ...string) {
	emit(out, desc, prometheus.GaugeValue, value, labels)
}

func counter(out chan<- prometheus.Metric, desc *prometheus.Desc, value float64, labels ...string) {
	emit(out, desc, prometheus.CounterValue, value, labels)
}

// emit gives one metric. A figure of a unit that has no name here has no metric;
// a label that is not UTF-8 is shown with replacement characters. What the library
// refuses all the same fails the scrape, and no more than that.
func emit(out chan<- prometheus.Metric, desc *prometheus.Desc, kind prometheus.ValueType, value float64, labels []string) {
	if desc == nil {
		return
	}
	for i, label := range labels {
		if !utf8.ValidString(label) {
			labels = slices.Clone(labels)
			labels[i] = strings.ToValidUTF8(label, "\ufffd")
		}
	}
	metric, err := prometheus.NewConstMetric(desc, kind, value, labels...)
	if err != nil {
		metric = prometheus.NewInvalidMetric(desc, err)
	}
	out <- metric
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
