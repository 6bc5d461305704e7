// Package metrics shows the bench to Prometheus: readings, limits, states, soaks,
// and how well the bench itself fares. A unit that leaves the bench leaves the
// metrics with it.
package metrics
