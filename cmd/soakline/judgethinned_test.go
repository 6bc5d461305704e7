package main

import (
	"strings"
	"testing"
	"time"
)

// TestJudgeAThinnedSoak: when its readings have become envelopes, a soak's verdict is the
// one that was given, word for word, and it is said why; by another sheet it cannot be
// judged any more, and never passes.
func TestJudgeAThinnedSoak(t *testing.T) {
	kept := judgedBookOf(t, 4*time.Hour)
	before := runHere(t.Context(), "judge", "1", "--json", "--book", kept)
	if before.stderr != "" || !strings.Contains(before.stdout, `"outcome"`) {
		t.Fatalf("%+v", before)
	}
	thinned := runHere(t.Context(), "book", "thin", "--older-than", "30m", "--keep-around", "1s", "--step", "1m", "--book", kept)
	if thinned.code != exitDone || !strings.Contains(thinned.stdout, "readings are envelopes of 1m0s now") {
		t.Fatalf("%+v", thinned)
	}
	after := runHere(t.Context(), "judge", "1", "--json", "--book", kept)
	if after.stdout != before.stdout || after.code != before.code {
		t.Errorf("the verdict is\n%s(exit %d), before\n%s(exit %d)", after.stdout, after.code, before.stdout, before.code)
	}
	if !strings.Contains(after.stderr, "thinned") || !strings.Contains(after.stderr, "readings became envelopes on ") ||
		!strings.Contains(after.stderr, "its verdict stays as it was given") {
		t.Errorf("it says %q", after.stderr)
	}
	other := runHere(t.Context(), "judge", "1", "--book", kept, "--sheet", "../../config/sheets/brambling-8.yaml")
	if other.code == exitDone || other.stdout != "" || !strings.Contains(other.stderr, "thinned") {
		t.Errorf("by a sheet of one's own: %+v", other)
	}
	info := runHere(t.Context(), "book", "info", "--book", kept)
	if !strings.Contains(info.stdout, "readings more are envelopes only") {
		t.Errorf("book info: %s", info.stdout)
	}
}
