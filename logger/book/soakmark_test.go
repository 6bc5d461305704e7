package book

import (
	"errors"
	"testing"
	"time"

	"soakline/checks"
)

// TestSoakMark: the mark of a soak changes with what its record rests on, and with
// nothing else.
func TestSoakMark(t *testing.T) {
	b, id := soaked(t)
	must(t, b.EndSoak(t.Context(), id, SoakEnded, begin.Add(time.Hour), ""))
	mark := func() string {
		t.Helper()
		m, err := b.SoakMark(t.Context(), id)
		must(t, err)
		return m
	}
	other := rail
	other.Unit = "B8-0152"
	lost := Loss{Tag: rail, From: begin.Add(time.Minute), To: begin.Add(2 * time.Minute), Count: 7, Cause: "queue full"}
	lostLater := lost
	lostLater.From, lostLater.To = begin.Add(2*time.Hour), begin.Add(3*time.Hour)
	for _, row := range []struct {
		name    string
		changes bool
		act     func() error
	}{
		{"nothing", false, func() error { return nil }},
		{"a reading of it", true, func() error { write(t, b, digits(t, rail, time.Minute, "5")); return nil }},
		{"a reading at its end", true, func() error { write(t, b, digits(t, rail, time.Hour, "5")); return nil }},
		{"a reading after it", false, func() error { write(t, b, digits(t, rail, time.Hour+time.Microsecond, "5")); return nil }},
		{"a reading of another unit", false, func() error { write(t, b, digits(t, other, time.Minute, "5")); return nil }},
		{"a loss", true, func() error {
			_, err := b.store(t.Context(), &batch{losses: map[lossKey]*Loss{{rail, lost.Cause}: &lost}}, newJournal())
			return err
		}},
		{"a loss after it", false, func() error {
			_, err := b.store(t.Context(), &batch{losses: map[lossKey]*Loss{{rail, lost.Cause}: &lostLater}}, newJournal())
			return err
		}},
		{"a pause", true, func() error {
			return b.PutPause(t.Context(), id, checks.Pause{From: begin.Add(time.Minute), To: begin.Add(2 * time.Minute)})
		}},
		{"its verdict", false, func() error { return b.PutVerdict(t.Context(), id, begin, checks.Verdict{Outcome: checks.Pass}) }},
	} {
		before := mark()
		must(t, row.act())
		if after := mark(); (after != before) != row.changes {
			t.Errorf("%s: changes the mark: %v, want %v\n%s%s", row.name, after != before, row.changes, before, after)
		}
	}
	if _, err := b.SoakMark(t.Context(), 99); !errors.Is(err, ErrNotFound) {
		t.Errorf("of no soak: %v", err)
	}
}
