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
	bench, _ := faultBench(t, faultSettings(t, patients), patients)
	for _, p := range patients {
		p.soaks(t, bench)
	}
	ctx, cancel := context.WithTimeout(t.Context(), 4*time.Minute)
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

// soaks puts the unit on a soak.
func (p *patient) soaks(t *testing.T, bench *logger.Bench) {
	t.Helper()
	if err := bench.AddUnit(t.Context(), book.Unit{ID: p.unit, Console: "Brambling 8"}); err != nil {
		t.Fatal(err)
	}
	soak, err := bench.BeginSoak(t.Context(), logger.SoakRequest{Unit: p.unit, Place: string(p.unit), For: time.Hour})
	if err != nil {
		t.Fatal(err)
	}
	p.soak = soak.ID
}

// admit makes a patient of every mishap at each of its moments.
func admit(t *testing.T) []*patient {
	var patients []*patient
	for _, mishap := range mishaps {
		for _, at := range mishap.moments {
			p := newPatient(t, len(patients))
			p.mishap, p.at = mishap, at
			p.meters[0].moment, p.meters[0].mishap = &at, mishap.reply
			patients = append(patients, p)
		}
	}
	return patients
}

func newPatient(t *testing.T, n int) *patient {
	p := &patient{unit: checks.UnitID(fmt.Sprintf("B8-%04d", n)), verdict: make(chan checks.Verdict, 1)}
	for i, levels := range channelsOf {
		p.meters = append(p.meters, newScriptedMeter(t, fmt.Sprintf("meter-%d-%d", n, i), fmt.Sprintf("S%d%d", n, i), levels))
	}
	return p
}

// faultSettings are those of a bench with a place for each patient.
func faultSettings(t *testing.T, patients []*patient) logger.Settings {
	t.Helper()
	sheet := checks.Sheet{Name: "faults", Console: "Brambling 8", Hash: book.HashSheet([]byte(sheetText)),
		Soak: checks.SoakPlan{Duration: time.Hour, EvidenceAtLeast: 0.99, LongestGap: time.Minute}}
	for level := 1; level <= 4; level++ {
		sheet.TestPoints = append(sheet.TestPoints, checks.TestPoint{Name: pointAt(level), Checks: []checks.Check{{
			Measure: device.DCVoltage, Every: 100 * time.Millisecond, FreshFor: freshWithin, Hold: time.Second,
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
	return settings
}

// faultBench runs a bench until stop is called or the test ends.
func faultBench(t *testing.T, settings logger.Settings, patients []*patient) (bench *logger.Bench, stop func()) {
	t.Helper()
	kept, err := book.Open(t.Context(), settings.Book, book.Options{})
	if err != nil {
		t.Fatal(err)
	}
	sheet := settings.Sheets[0]
	bench = logger.NewBench(settings, logger.Options{Book: kept, Log: slog.New(slog.DiscardHandler),
		ParseSheet: func(string, []byte) (checks.Sheet, error) { return sheet, nil },
		SheetTexts: map[string][]byte{sheet.Hash: []byte(sheetText)},
		Finished: func(f logger.FinishedSoak) {
			patients[slices.IndexFunc(patients, func(p *patient) bool { return p.unit == f.Unit })].verdict <- f.Verdict
		}})
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- bench.Run(ctx) }()
	stop = sync.OnceFunc(func() {
		cancel()
		if err := errors.Join(<-ended, kept.Close()); err != nil {
			t.Error(err)
		}
	})
	t.Cleanup(stop)
	return bench, stop
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
	if p.kinds == nil { // nothing is wrong with it but its pace
		if err := p.goesOn(ctx, bench); err != nil {
			return fmt.Errorf("while it lasts: %w", err)
		}
	}
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
