package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"soakline/checks"
	"soakline/logger/book"
)

// machineClockEnv names the file that says how far the machine's clock is set wrong.
const machineClockEnv = "SOAKLINE_TEST_MACHINE_CLOCK"

// machineClock is the clock of a machine that a file sets wrong; without the file it is
// right.
func machineClock(file string) func() time.Time {
	return func() time.Time {
		text, err := os.ReadFile(file)
		if err != nil {
			return time.Now()
		}
		wrong, err := time.ParseDuration(string(text))
		if err != nil {
			return time.Now() // half written
		}
		return time.Now().Round(0).Add(wrong)
	}
}

// TestClockSetUnderTheDaemon: the machine's clock is set ahead, back, and after a kill
// to 1970, under the whole program. Every reading has its place in time, the soak takes
// as long as it takes, and the book says what was done to the clock.
func TestClockSetUnderTheDaemon(t *testing.T) {
	t.Parallel()
	k := newFullBench(t, t.TempDir(), "")
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "wrong")
	k.program, k.before = self, []string{"env", machineClockEnv + "=" + file}
	set := func(wrong time.Duration) {
		t.Helper()
		if err := os.WriteFile(file, []byte(wrong.String()), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	goesOn := func() {
		t.Helper()
		before := k.metric(t, "soakline_readings_total")
		waitFor(t, "more readings", func() bool { return k.metric(t, "soakline_readings_total") > before+fullPerSecond })
	}
	set(0)
	k.serve(t)
	begun := time.Now()
	k.beginSoak(t)
	for _, wrong := range []time.Duration{0, time.Hour, -time.Hour, 0} {
		set(wrong)
		goesOn()
	}
	k.kill(t)
	set(-time.Since(time.Unix(30, 0)))
	k.serve(t)
	goesOn()
	set(time.Hour) // so long it was away, as it were
	goesOn()
	verdict := k.verdictOf(t)
	elapsed := time.Since(begun) + time.Hour
	if took := verdict.End.Sub(verdict.Begin); verdict.Outcome != checks.Undecided || took > elapsed || took < elapsed-10*time.Second {
		t.Errorf("%s after %v, want it after %v", verdict.Outcome, took, elapsed)
	}
	for _, check := range verdict.Checks {
		if check.OutOfOrder > 0 || check.GapTotal > time.Hour+20*time.Second || check.LongestGap < 50*time.Minute {
			t.Errorf("%s: %d out of order, gaps %v", check.Check, check.OutOfOrder, check.Gaps)
		}
	}
	k.toldOfClock(t, "set ahead by 1h", "set back by 1h", "nobody can say how long the program was away", "than was assumed the program had been away")
}

// toldOfClock: the book says what was done to the clock.
func (k *killedBench) toldOfClock(t *testing.T, texts ...string) {
	t.Helper()
	b, err := book.Open(t.Context(), k.book, book.Options{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	events, err := b.Events(t.Context(), "", time.Time{}, time.Time{})
	if err != nil {
		t.Fatal(err)
	}
	var all strings.Builder
	for _, e := range events {
		all.WriteString(e.Text + "\n")
	}
	for _, text := range texts {
		if !strings.Contains(all.String(), text) {
			t.Errorf("the book does not say %q:\n%s", text, all.String())
		}
	}
}
