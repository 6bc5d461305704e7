package main

import (
	"fmt"
	"io"

	"soakline/logger/page"
)

// printSoakDrift shows what drifts in a soak: each check that a chart has alarmed at.
func printSoakDrift(out io.Writer, soak page.SoakView) {
	fit := fitting(out)
	for _, check := range soak.Checks {
		if check.Drift == nil || check.Drift.AlarmAt == nil {
			continue
		}
		text := fmt.Sprintf("drift: %s (alarm since %s)", check.Drift.Text, check.Drift.AlarmAt.Local().Format(dayAndTime))
		fmt.Fprint(out, fit(paragraph("  ", text)))
	}
}
