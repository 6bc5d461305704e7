package checks_test

import (
	"testing"

	"soakline/checks"
)

func TestFindingTable(t *testing.T) {
	table := checks.MustFindingTable(
		checks.FindingKind{Code: "no-sync", Sentence: "No sync pulses found.", Advice: "Check the lead."},
		checks.FindingKind{Code: "level-high", Sentence: "Level %.0f %% high.", Advice: "Check that the 75 ohm load is fitted.",
			HidesBehind: []checks.FindingCode{"no-sync"}},
	)
	high, err := table.Find("level-high", checks.Outside, 21.0)
	if err != nil || high.Text != "Level 21 % high." || high.State != checks.Outside || high.Advice == "" {
		t.Fatalf("%+v, %v", high, err)
	}
	noSync, _ := table.Find("no-sync", checks.Outside)
	if _, err := table.Find("level-hihg", checks.Outside); err == nil {
		t.Error("a code that nobody declared was found")
	}
	if shown := checks.Shown([]checks.Finding{high, noSync}); len(shown) != 1 || shown[0].Code != "no-sync" {
		t.Errorf("got %+v", shown)
	}
	if shown := checks.Shown([]checks.Finding{high}); len(shown) != 1 {
		t.Errorf("hidden behind nothing: %+v", shown)
	}
	if codes := table.Codes(); len(codes) != 2 || codes[0] != "no-sync" {
		t.Errorf("got %v", codes)
	}
}

func TestWrongFindingTables(t *testing.T) {
	kind := checks.FindingKind{Code: "hum", Sentence: "Hum."}
	itself, stranger := kind, kind
	itself.HidesBehind = []checks.FindingCode{"hum"}
	stranger.HidesBehind = []checks.FindingCode{"tone"}
	for name, kinds := range map[string][]checks.FindingKind{
		"twice": {kind, kind}, "no code": {{Sentence: "Hum."}}, "no sentence": {{Code: "hum"}}, "itself": {itself}, "unknown": {stranger},
	} {
		if _, err := checks.NewFindingTable(kinds...); err == nil {
			t.Errorf("%s: accepted", name)
		}
	}
	defer func() {
		if recover() == nil {
			t.Error("a wrong table of a package's own must not start")
		}
	}()
	checks.MustFindingTable(kind, kind)
}
