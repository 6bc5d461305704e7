package main

import (
	"os"
	"testing"
)

// TestBookLeavesTheDaemon: the book is renamed under the daemon and put back, then cut
// down to nothing. Reading goes on each time and everybody is told; what waits goes in
// where that is possible, and where it is not the daemon does not end as if all were
// well.
func TestBookLeavesTheDaemon(t *testing.T) {
	t.Parallel()
	k := newFullBench(t, t.TempDir(), "")
	k.serve(t)
	k.beginSoak(t)
	waitFor(t, "readings in the book", func() bool { return k.view(t).Book.WrittenReadings > fullPerSecond })
	goesOn := func() {
		t.Helper()
		before := k.metric(t, "soakline_readings_total")
		waitFor(t, "readings meanwhile", func() bool { return k.metric(t, "soakline_readings_total") > before+fullPerSecond })
	}
	if err := os.Rename(k.book, k.book+".aside"); err != nil {
		t.Fatal(err)
	}
	k.troubled(t, "removed or renamed")
	goesOn()
	if err := os.Rename(k.book+".aside", k.book); err != nil {
		t.Fatal(err)
	}
	waitFor(t, "the book", func() bool { return k.view(t).Book.Trouble == "" && k.waiting(t) < 3*fullPerSecond })
	if lost := k.metric(t, "soakline_readings_lost_total"); lost > 0 {
		t.Errorf("%g readings were lost", lost)
	}
	if err := os.Truncate(k.book, 0); err != nil {
		t.Fatal(err)
	}
	k.troubled(t, "cut short")
	goesOn()
	if err := k.daemon.Process.Signal(os.Interrupt); err != nil {
		t.Fatal(err)
	}
	if code := exitCode(k.daemon.Wait()); code != exitTrouble {
		t.Errorf("it ended with %d, want %d: %s", code, exitTrouble, k.daemon.log)
	}
}
