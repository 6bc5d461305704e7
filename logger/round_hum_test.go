package logger_test

import (
	"math"
	"regexp"
	"strings"
	"testing"

	"soakline/checks"
	"soakline/logger"
)

// TestRoundFindsHum: mains hum of 100 mV on a simulated composite output, which no
// single record of a few lines can show, is said by the records together. How far
// the figure may be off is what the scope's answer may be late by: a millisecond of
// a 20 ms cycle, 30 % of the peak; so few records may take it for its own second
// harmonic.
func TestRoundFindsHum(t *testing.T) {
	t.Parallel()
	s := newSimulated(t)
	s.fault(t, "B8-0147", "hum", "composite", "0.1")
	_, reports := s.takeRound(t, logger.RoundRequest{Label: "as received", Candidate: math.NaN()})
	codes := map[checks.FindingCode]bool{}
	for _, finding := range reports["composite"].Findings {
		codes[finding.Code] = true
	}
	remarks := strings.Join(reports["composite"].Remarks, "\n")
	if !codes["hum"] || !regexp.MustCompile(`hum (0\.1[0-3]\d*|0\.0[789]\d*|[789]\d\S*|1[0-3]\d\S*) m?V.* peak to peak at (49|50|99|100)`).MatchString(remarks) {
		t.Errorf("findings %v, remarks %q", codes, remarks)
	}
}
