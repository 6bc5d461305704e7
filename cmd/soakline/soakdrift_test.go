package main

import (
	"strings"
	"testing"
	"time"

	"soakline/logger/page"
)

// A soak's standing shows the drifts that a chart has alarmed at, and no others.
func TestSoakShowsItsDrifts(t *testing.T) {
	at := time.Date(2026, 11, 25, 14, 0, 0, 0, time.Local)
	var out strings.Builder
	printSoakDrift(&out, page.SoakView{Checks: []page.CheckView{
		{},
		{Drift: &page.DriftView{Text: "composite has no steady trend"}},
		{Drift: &page.DriftView{Text: "rail-5v falls 12 mV an hour and meets 4.75 V in about 3 h [2 h, 5 h]", AlarmAt: &at}},
	}})
	got := strings.Join(strings.Fields(out.String()), " ")
	if want := "drift: rail-5v falls 12 mV an hour and meets 4.75 V in about 3 h [2 h, 5 h] (alarm since 2026-11-25 14:00:00)"; got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
}
