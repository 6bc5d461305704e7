package logger_test

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"math"
	"path/filepath"
	"slices"
	"strconv"
	"sync"
	"testing"
	"time"

	"soakline/checks"
	"soakline/device"
	"soakline/logger"
	"soakline/logger/book"
)

// patient is a unit on a soak with two meters of two channels each, to the first of
// which, or to both, something happens at a moment.
type patient struct {
	mishap
	at     moment
	unit   checks.UnitID
	meters []*scriptedMeter
	soak   book.SoakID
	// from and to are when it had begun and was about to end.
	from, to time.Time
	err      error // of its course
	verdict  chan checks.Verdict
}

func (p *patient) String() string { return p.name + ", " + p.at.name }

// channels of both meters, with the level of each; the test points are p1 to p4.
var channelsOf = []map[int]int{{101: 1, 102: 2}, {101: 3, 102: 4}}

func pointAt(level int) checks.TestPointName {
	return checks.TestPointName("p" + strconv.Itoa(level))
}

// TestSerialFaults has everything befall meters at every moment, all in one soak of
// their own on one bench. Afterwards every reading in the book is an answer that was
// given to the question for that test point, once; what was missing is a gap in the
// evidence and an event; the other meter was read on, and afterwards both were.
func TestSerialFaults(t *testing.T) {
	patients := admit(t)
	bench := faultBench(t, patients)
	for _, p := range patients {
		if err := bench.AddUnit(t.Context(), book.Unit{ID: p.unit, Console: "Brambling 8"}); err != nil {
			t.Fatal(err)
		}
		soak, err := bench.BeginSoak(t.Context(), logger.SoakRequest{Unit: p.unit, Place: string(p.unit), For: time.Hour})
		if err != nil {
			t.Fatal(err)
		}
		p.soak = soak.ID
	}
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	var courses sync.WaitGroup
	for _, p := range patients {
		p.meters[1].plugIn()
	}
	for _, p := range patients { // two meters that have never been heard cannot be told apart
		until(ctx, t, "the second meters", func() bool { return bench.Keeper(p.meters[1].name).Status().Up })
	}
	for _, p := range patients {
		p.meters[0].plugIn()
		courses.Go(func() { p.err = p.course(ctx, bench) })
	}
	courses.Wait()
	for _, p := range patients {
		t.Run(p.String(), func(t *testing.T) {
			if p.err != nil {
				t.Error(p.err)
				return
			}
			p.examine(t, bench.Book())
		})
	}
}

// admit makes a patient of every mishap at each of its moments.
func admit(t *testing.T) []*patient {
	var patients []*patient
	for _, mishap := range mishaps {
		for _, at := range mishap.moments {
			n := len(patients)
			p := &patient{mishap: mishap, at: at, unit: checks.UnitID(fmt.Sprintf("B8-%04d", n)), verdict: make(chan checks.Verdict, 1)}
			for i, levels := range channelsOf {
				p.meters = append(p.meters, newScriptedMeter(t, fmt.Sprintf("meter-%d-%d", n, i), fmt.Sprintf("S%d%d", n, i), levels))
			}
			m := p.meters[0]
			m.moment, m.mishap = &at, mishap.reply
			patients = append(patients, p)
		}
	}
	return patients
}

// faultBench runs a bench with a place for each patient.
func faultBench(t *testing.T, patients []*patient) *logger.Bench {
	t.Helper()
	sheet := checks.Sheet{Name: "faults", Console: "Brambling 8", Hash: book.HashSheet([]byte(sheetText)),
		Soak: checks.SoakPlan{Duration: time.Hour, EvidenceAtLeast: 0.99, LongestGap: time.Minute}}
	for level := 1; level <= 4; level++ {
		sheet.TestPoints = append(sheet.TestPoints, checks.TestPoint{Name: pointAt(level), Checks: []checks.Check{{
			Measure: device.DCVoltage, Every: 50 * time.Millisecond, FreshFor: freshWithin, Hold: time.Second,
			Limit: checks.Limit{Low: float64(level), High: float64(level) + 0.5, Nominal: math.NaN(), Source: "for the test", Guard: checks.GuardBand{Rule: checks.Simple}}}}})
	}
	settings := logger.Settings{Bench: "pier-end", Book: filepath.Join(t.TempDir(), "faults.book"), CommitEvery: 100 * time.Millisecond, Sheets: []checks.Sheet{sheet}}
	for _, p := range patients {
		place := logger.Place{Name: string(p.unit)}
		for _, m := range p.meters {
			settings.Instruments = append(settings.Instruments, logger.InstrumentSettings{Name: m.name, Port: m.cable.Path(), Commands: scriptedCommands()})
			for channel, level := range m.levels {
				place.Connections = append(place.Connections, logger.Connection{TestPoint: pointAt(level), Instrument: m.name, Channel: strconv.Itoa(channel)})
			}
		}
		settings.Places = append(settings.Places, place)
	}
	kept, err := book.Open(t.Context(), settings.Book, book.Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := kept.Close(); err != nil {
			t.Error(err)
		}
	})
	bench := logger.NewBench(settings, logger.Options{Book: kept, Log: slog.New(slog.DiscardHandler),
		ParseSheet: func(string, []byte) (checks.Sheet, error) { return sheet, nil },
		SheetTexts: map[string][]byte{sheet.Hash: []byte(sheetText)},
		Finished: func(f logger.FinishedSoak) {
			patients[slices.IndexFunc(patients, func(p *patient) bool { return p.unit == f.Unit })].verdict <- f.Verdict
		}})
	background(t, bench.Run)
	return bench
}

// course waits for the moment, lets it happen, and waits until all four test points
// are read again.
func (p *patient) course(ctx context.Context, bench *logger.Bench) error {
	first := p.meters[0]
	select {
	case <-first.hit:
	case <-ctx.Done():
		return errors.New("its moment never came")
	}
	p.from = time.Now()
	over := time.NewTimer(mishapLasts)
	defer over.Stop()
	if p.begin != nil {
		p.begin(p)
	}
	<-over.C
	p.to = time.Now()
	first.set(func() { first.state = nil })
	if p.end != nil {
		p.end(p)
	}
	if err := p.goesOn(ctx, bench); err != nil {
		return err
	}
	return bench.EndSoak(ctx, p.unit, "seen enough")
}

// goesOn waits for more readings of every test point.
func (p *patient) goesOn(ctx context.Context, bench *logger.Bench) error {
	count := func() map[checks.TestPointName]uint64 {
		counts := map[checks.TestPointName]uint64{}
		for tag, tally := range bench.Counters.Series() {
			if tag.Unit == p.unit {
				counts[tag.TestPoint] = tally.Readings
			}
		}
		return counts
	}
	before, waiting := count(), []string{}
	is := func() bool {
		waiting = waiting[:0]
		now := count()
		for level := 1; level <= 4; level++ {
			if point := pointAt(level); now[point] < before[point]+3 {
				waiting = append(waiting, string(point))
			}
		}
		return len(waiting) == 0
	}
	if !comesTrue(ctx, is) {
		return fmt.Errorf("%q are not read again", waiting)
	}
	return nil
}

// comesTrue looks until something is true, which is told by nobody.
func comesTrue(ctx context.Context, is func() bool) bool {
	look := time.NewTicker(20 * time.Millisecond)
	defer look.Stop()
	for !is() {
		select {
		case <-look.C:
		case <-ctx.Done():
			return false
		}
	}
	return true
}

func until(ctx context.Context, t *testing.T, what string, is func() bool) {
	t.Helper()
	if !comesTrue(ctx, is) {
		t.Fatalf("waited in vain for %s", what)
	}
}

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
	during := 0
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
		if m == p.meters[0] && r.At.After(p.from) && r.At.Before(p.to) {
			during++
		}
	}
	if !p.mute && p.reply != nil && p.kinds == nil && during == 0 {
		t.Error("it was not read on, although it answers in time")
	}
	return times
}

// examineGaps: what was missing for longer than a reading is fresh is a gap, no more
// and no less, and the mishap is one if nothing could be read meanwhile.
func (p *patient) examineGaps(t *testing.T, check checks.CheckResult, times []time.Time) {
	t.Helper()
	holes := 0
	for i := 1; i < len(times); i++ {
		if times[i].Sub(times[i-1]) > freshWithin {
			holes++
			if !hasGap(check.Gaps, times[i-1], times[i]) {
				t.Errorf("%s was not read from %v to %v, and that is no gap in %v", check.Check, times[i-1], times[i], check.Gaps)
			}
		}
	}
	if edges := check.GapCount - holes; edges < 0 || edges > 2 { // before the first and after the last
		t.Errorf("%s has %d gaps, and %d holes between readings", check.Check, check.GapCount, holes)
	}
	hit := p.mute && (p.both || check.Check.TestPoint <= pointAt(2))
	covers := func(g checks.Gap) bool { // but for the last answer's way and the first one's
		return g.From.Before(p.from.Add(mishapLasts/10)) && g.To.After(p.to.Add(-mishapLasts/10))
	}
	if hit && !slices.ContainsFunc(check.Gaps, covers) || hit && check.Evidence >= 1 {
		t.Errorf("%s could not be read from %v to %v: evidence %g, gaps %v", check.Check, p.from, p.to, check.Evidence, check.Gaps)
	}
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
