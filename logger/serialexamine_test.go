package logger_test

import (
	"slices"
	"strconv"
	"testing"
	"time"

	"soakline/checks"
	"soakline/logger/book"
)

// examine holds the book against what the meters said.
func (p *patient) examine(t *testing.T, b *book.Book) {
	times := p.examineReadings(t, b)
	verdict := <-p.verdict
	for _, check := range verdict.Checks {
		if check.OutsideCount+check.BorderlineCount > 0 {
			t.Errorf("%s has %d excursions, and nothing was ever outside", check.Check, check.OutsideCount+check.BorderlineCount)
		}
		p.examineGaps(t, check, times[check.Check.TestPoint])
	}
	p.examineEvents(t, b)
}

// examineReadings: every reading was said for its test point, once. It returns the
// times of each point's readings.
func (p *patient) examineReadings(t *testing.T, b *book.Book) map[checks.TestPointName][]time.Time {
	t.Helper()
	times := map[checks.TestPointName][]time.Time{}
	for r, err := range b.SoakReadings(t.Context(), p.soak) {
		if err != nil {
			t.Fatal(err)
		}
		m := p.meters[slices.IndexFunc(p.meters, func(m *scriptedMeter) bool { return m.name == r.Tag.Instrument })]
		digits := strconv.FormatFloat(r.Value, 'f', 6, 64)
		level, given := m.said[digits]
		if !given || pointAt(level) != r.Tag.TestPoint {
			t.Errorf("%s at %s of %s was not said for it, or is there twice", digits, r.Tag.TestPoint, m.name)
		}
		delete(m.said, digits)
		times[r.Tag.TestPoint] = append(times[r.Tag.TestPoint], r.At)
	}
	return times
}

// examineGaps: what was missing for longer than a reading is fresh is a gap, no more
// and no less, and so is the mishap if nothing could be read meanwhile.
func (p *patient) examineGaps(t *testing.T, check checks.CheckResult, times []time.Time) {
	t.Helper()
	holes := 0
	for i := 1; i < len(times); i++ {
		if times[i].Sub(times[i-1]) <= freshWithin {
			continue
		}
		holes++
		listed := len(check.Gaps) == check.GapCount // else only the longest are
		if listed && !hasGap(check.Gaps, times[i-1], times[i]) {
			t.Errorf("%s was not read from %v to %v, and that is no gap in %v", check.Check, times[i-1], times[i], check.Gaps)
		}
	}
	// Beside the holes there are the times before the first and after the last, and
	// what a machine that is too busy has lost.
	if edges := check.GapCount - holes; edges < 0 || edges > 2 && check.Lost == 0 {
		t.Errorf("%s has %d gaps, and %d holes between readings", check.Check, check.GapCount, holes)
	}
	if hit := p.mute && (p.both || check.Check.TestPoint <= pointAt(2)); hit && check.Evidence >= 1 && p.hole(times) > freshWithin {
		t.Errorf("%s could not be read from %v to %v, and the evidence is %g", check.Check, p.from, p.to, check.Evidence)
	}
}

// hole is how long there was no reading about the end of the mishap: as long as it
// lasted, unless the answer before it took that long to be seen by this machine.
func (p *patient) hole(times []time.Time) time.Duration {
	after, _ := slices.BinarySearchFunc(times, p.to, time.Time.Compare)
	switch {
	case after == 0: // it began with the mishap
		return mishapLasts
	case after == len(times):
		return 0
	}
	return times[after].Sub(times[after-1])
}

func hasGap(gaps []checks.Gap, from, to time.Time) bool {
	return slices.ContainsFunc(gaps, func(g checks.Gap) bool { return g.From.Equal(from) && g.To.Equal(to) })
}

// examineEvents: what happened is in the book under the meter's name.
func (p *patient) examineEvents(t *testing.T, b *book.Book) {
	t.Helper()
	events, err := b.Events(t.Context(), "", time.Time{}, time.Time{})
	if err != nil {
		t.Fatal(err)
	}
	found := len(p.kinds) == 0
	var told []string
	for _, e := range events {
		if e.Instrument != p.meters[0].name {
			continue
		}
		told = append(told, string(e.Kind)+": "+e.Text)
		found = found || slices.Contains(p.kinds, e.Kind)
	}
	if !found {
		t.Errorf("none of %s is in the book, only %q", p.kinds, told)
	}
}
