package metrics

import (
	"slices"

	"github.com/prometheus/client_golang/prometheus"

	"soakline/device"
)

// The labels of everything that belongs to one check, and of one soak.
var (
	checkLabels = []string{"bench", "console", "unit", "test_point", "instrument", "measure"}
	soakLabels  = []string{"bench", "console", "unit"}
)

// describe declares one metric. Names follow the published naming practice: one
// prefix, base units in the plural, counters end in _total.
func describe(name, help string, labels ...string) *prometheus.Desc {
	return prometheus.NewDesc("soakline_"+name, help, labels, nil)
}

func and(labels []string, more ...string) []string {
	return append(slices.Clone(labels), more...)
}

// This is the one table of metrics.
var (
	readingDescs = byUnit("reading_", "", "Latest reading; absent while there is no fresh one.", checkLabels...)
	limitDescs   = byUnit("limit_", "", "Limit of the check, by edge; absent where it has none.", and(checkLabels, "edge")...)
	driftDescs   = byUnit("drift_", "_per_hour", "Slope of the readings; absent while it is not known or not watched.", checkLabels...)

	driftAlarmDesc     = describe("drift_alarm", "1 once the chart has alarmed in this soak.", and(checkLabels, "chart")...)
	secondsToLimitDesc = describe("seconds_to_limit", "Time until the trend meets the limit; absent while there is no trend.", checkLabels...)

	stateDesc      = describe("state", "1 for the state that the check is in, 0 for the others.", and(checkLabels, "state")...)
	readingsDesc   = describe("readings_total", "Readings taken since the program started.", checkLabels...)
	excursionsDesc = describe("excursions_total", "Excursions begun, by the state that they held.", "bench", "unit", "test_point", "measure", "state")

	errorsDesc  = describe("reading_errors_total", "Answers that were no reading, and ports that failed, by kind.", "instrument", "kind")
	lostDesc    = describe("readings_lost_total", "Readings that were taken but could not be kept, by cause.", "cause")
	portUpDesc  = describe("port_up", "1 while the port is open and the instrument answers.", "bench", "instrument")
	reopensDesc = describe("port_reopens_total", "How often the port was opened again after it had been lost.", "bench", "instrument")

	progressDesc = describe("soak_progress_ratio", "Share of the planned time that is over.", soakLabels...)
	evidenceDesc = describe("soak_evidence_ratio", "Smallest share of the time so far that readings cover, over all checks.", soakLabels...)
	verdictDesc  = describe("soak_verdict", "1 for the verdict that the soak has or, while it runs, would have by now.", and(soakLabels, "verdict")...)

	shipPendingDesc = describe("ship_pending_readings", "Readings in the book that the target does not have yet.", "bench", "target")
	shipLagDesc     = describe("ship_lag_seconds", "Age of the oldest reading that the target does not have yet; 0 if there is none.", "bench", "target")
	shipLinesDesc   = describe("ship_lines_total", "Lines that the target has acknowledged since the program started.", "bench", "target")
	shipRefusedDesc = describe("ship_refused_lines_total", "Lines that the target refused and that were set aside.", "bench", "target")
	shipUpDesc      = describe("ship_up", "1 unless something holds up what is to be shipped to the target.", "bench", "target")

	pendingDesc = describe("book_pending_readings", "Readings that wait for the book's next commit.", "bench")
)

// byUnit declares a metric for each unit that a measure can have.
func byUnit(prefix, suffix, help string, labels ...string) map[device.Unit]*prometheus.Desc {
	descs := map[device.Unit]*prometheus.Desc{}
	for _, measure := range device.Measures() {
		unit := measure.Unit()
		if descs[unit] == nil {
			descs[unit] = describe(prefix+unit.Plural+suffix, help, labels...)
		}
	}
	return descs
}
