package main

import (
	"fmt"
	"io"
	"strings"

	"soakline/checks"
	"soakline/logger/page"
)

// printVerdict writes a verdict for a person: the outcome, what was judged by
// what, and why.
func printVerdict(w io.Writer, v page.VerdictView) {
	fmt.Fprintf(w, "%-9s  %s   sheet %s (sha256 %.12s…)   %s, evidence %s\n", strings.ToUpper(string(v.Outcome)), v.Unit,
		v.Sheet, v.SheetHash, inWords(v.End.Sub(v.Begin)), percent(v.EvidenceRatio))
	for _, reason := range v.Reasons {
		fmt.Fprintf(w, "           %s\n", reason)
	}
}

// outcomesOf are the outcomes of verdicts, for the exit code.
func outcomesOf(verdicts map[string]page.VerdictView) []checks.Outcome {
	var outcomes []checks.Outcome
	for _, verdict := range verdicts {
		outcomes = append(outcomes, verdict.Outcome)
	}
	return outcomes
}
