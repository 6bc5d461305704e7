package logger_test

import (
	"math"
	"slices"
	"testing"

	"soakline/checks"
	"soakline/logger"
)

// TestRoundFindsHum: mains hum of 100 mV on a simulated composite output, which no
// single record of a few lines can show, is said by the records together; without
// it nothing is said. How large the figure is depends on how promptly the scope's
// answers are taken, so it is held by the tests of checks/video and not here.
func TestRoundFindsHum(t *testing.T) {
	t.Parallel()
	s := newSimulated(t)
	hum := func(label string) bool {
		_, reports := s.takeRound(t, logger.RoundRequest{Label: label, Candidate: math.NaN()})
		return slices.ContainsFunc(reports["composite"].Findings, func(f checks.Finding) bool { return f.Code == "hum" })
	}
	if hum("as received") {
		t.Error("hum was found where there is none")
	}
	s.fault(t, "B8-0147", "hum", "composite", "0.1")
	if !hum("with hum") {
		t.Error("100 mV of hum were not found")
	}
}
