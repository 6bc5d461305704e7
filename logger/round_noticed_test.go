package logger

import (
	"testing"

	"soakline/checks"
)

func TestFindingsOfMostRecords(t *testing.T) {
	var n noticed
	if got := n.byMost(3); got != nil {
		t.Errorf("of nothing: %v", got)
	}
	n.add([]checks.Finding{{Code: "level-high", Text: "first"}, {Code: "no-sync"}})
	n.add([]checks.Finding{{Code: "level-high", Text: "second"}, {Code: "overshoot"}})
	n.add([]checks.Finding{{Code: "overshoot", Text: "last"}})
	n.add(nil)
	got := n.byMost(4)
	if len(got) != 2 || got[0].Text != "second" || got[1].Code != "overshoot" || got[1].Text != "last" {
		t.Errorf("got %v, want level-high and overshoot, each in its last words", got)
	}
}
