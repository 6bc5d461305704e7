package logger_test

import (
	"context"
	"log/slog"
	"math"
	"strings"
	"testing"
	"time"

	"soakline/checks"
	"soakline/device"
	"soakline/device/simbench"
	"soakline/logger"
	"soakline/logger/book"
)

// cycledSheet switches the simulated unit off and on by its supply; all figures are
// invented.
func cycledSheet(length time.Duration, cycles int) checks.Sheet {
	check := func(m device.Measure, low, high float64) checks.Check {
		return checks.Check{Measure: m, Every: 200 * time.Millisecond, FreshFor: 1500 * time.Millisecond, Settle: time.Second, Hold: 500 * time.Millisecond,
			Limit: checks.Limit{Low: low, High: high, Nominal: math.NaN(), Source: "for the test", Guard: checks.GuardBand{Rule: checks.Simple}}}
	}
	return checks.Sheet{Name: "brambling-8", Console: "Brambling 8", Hash: book.HashSheet([]byte(sheetText)),
		Soak: checks.SoakPlan{Duration: length, EvidenceAtLeast: 0.9, LongestGap: 3 * time.Second,
			Cycles: &checks.CyclePlan{TestPoint: "supply", Cycles: cycles, On: 3 * time.Second, Off: time.Second}},
		TestPoints: []checks.TestPoint{{Name: "rail-5v", Checks: []checks.Check{check(device.DCVoltage, 4.75, 5.25)}},
			{Name: "supply", Checks: []checks.Check{check(device.DCCurrent, 0.01, 3)}}}}
}

// cycledBench is a bench whose supply feeds the unit; run starts it and returns what
// ends it again.
type cycledBench struct {
	settings logger.Settings
	sim      *simbench.Bench
	book     *book.Book
	verdicts chan logger.FinishedSoak
}

func newCycledBench(t *testing.T, length time.Duration, cycles int, change ...func(*simbench.Config)) *cycledBench {
	t.Helper()
	dir := t.TempDir()
	config := simbench.DemoConfig(dir)
	config.Units[0].Reservoir.RegulatesDownToV = 5 // the rail is gone within the pause
	for _, f := range change {
		f(&config)
	}
	for i := range config.Instruments {
		if s := config.Instruments[i].Supply; s != nil {
			s.OutputOn = false
			if s.Feeds == "" {
				s.Feeds = "B8-0147"
			}
		}
	}
	sim, err := simbench.New(config)
	if err != nil {
		t.Fatal(err)
	}
	background(t, sim.Run)
	<-sim.Ready()
	settings := simulatedSettings(sim.Ports(), dir)
	supply := device.CommandSet{Name: "supply", Line: settings.Instruments[0].Commands.Line, Identify: "*IDN?", Prepare: []string{"*CLS"},
		Asks:   []device.Ask{{Measure: device.DCVoltage, Send: "MEASure:VOLTage:DC?"}, {Measure: device.DCCurrent, Send: "MEASure:CURRent:DC?"}},
		Output: &device.OutputSwitch{On: "OUTPut ON", Off: "OUTPut OFF", Ask: "OUTPut?", OnIs: "1", OffIs: "0"}}
	settings.Instruments = append(settings.Instruments[:1], logger.InstrumentSettings{Name: "supply", Port: sim.Ports()["supply"], Commands: supply})
	settings.Sheets = []checks.Sheet{cycledSheet(length, cycles)}
	settings.Places = []logger.Place{{Name: "left", Connections: []logger.Connection{{TestPoint: "rail-5v", Instrument: "meter", Channel: "101"}, {TestPoint: "supply", Instrument: "supply"}}}}
	b, err := book.Open(t.Context(), settings.Book, book.Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := b.Close(); err != nil {
			t.Error(err)
		}
	})
	if err := b.AddUnit(t.Context(), book.Unit{ID: "B8-0147", Console: "Brambling 8"}); err != nil {
		t.Fatal(err)
	}
	return &cycledBench{settings: settings, sim: sim, book: b, verdicts: make(chan logger.FinishedSoak, 1)}
}

func (c *cycledBench) run(t *testing.T) (bench *logger.Bench, end func()) {
	t.Helper()
	sheet := c.settings.Sheets[0]
	bench = logger.NewBench(c.settings, logger.Options{Book: c.book, Log: slog.New(slog.DiscardHandler),
		ParseSheet: func(string, []byte) (checks.Sheet, error) { return sheet, nil },
		SheetTexts: map[string][]byte{sheet.Hash: []byte(sheetText)}, Finished: func(f logger.FinishedSoak) { c.verdicts <- f }})
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- bench.Run(ctx) }()
	return bench, func() {
		cancel()
		if err := <-ended; err != nil {
			t.Error(err)
		}
	}
}

// output is what the supply gives, read by the bench.
func output(t *testing.T, bench *logger.Bench) float64 {
	t.Helper()
	var r device.Reading
	err := bench.Keeper("supply").Do(t.Context(), func(ctx context.Context, s *device.Session) (err error) {
		r, err = s.Read(ctx, "", device.DCVoltage)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return r.Value
}

func (c *cycledBench) powerEvents(t *testing.T) string {
	t.Helper()
	events, err := c.book.Events(t.Context(), c.settings.Bench, time.Now().Add(-time.Hour), time.Now().Add(time.Hour))
	if err != nil {
		t.Fatal(err)
	}
	var text strings.Builder
	for _, e := range events {
		if e.Kind == logger.PowerCycled {
			text.WriteString(e.Text + "\n")
		}
	}
	return text.String()
}

// A soak switches its unit on, off and on again twice, passes by the readings in
// between, and leaves the output off. The verdict comes out of the book again.
func TestSoakSwitchesItsUnit(t *testing.T) {
	c := newCycledBench(t, 14*time.Second, 2)
	bench, end := c.run(t)
	soak, err := bench.BeginSoak(t.Context(), logger.SoakRequest{Unit: "B8-0147"})
	if err != nil {
		t.Fatal(err)
	}
	finished := <-c.verdicts
	if finished.Verdict.Outcome != checks.Pass || finished.Verdict.Evidence < 0.9 {
		t.Errorf("%s, evidence %v: %+v", finished.Verdict.Outcome, finished.Verdict.Evidence, finished.Verdict.Reasons)
	}
	pauses, err := c.book.Pauses(t.Context(), soak.ID)
	if err != nil || len(pauses) != 2 {
		t.Fatalf("pauses %+v, %v", pauses, err)
	}
	for _, p := range pauses {
		if length := p.To.Sub(p.From); length < time.Second || length > 4*time.Second {
			t.Errorf("a pause of %s", length)
		}
	}
	end() // waits for the output that the end of the soak has switched off
	told := c.powerEvents(t)
	for _, want := range []string{"B8-0147: off, pause 1 of 2", "on, start 1 of 2: rail-5v dc-voltage within after", "on, start 2 of 2", "highest"} {
		if !strings.Contains(told, want) {
			t.Errorf("%q is not told of in\n%s", want, told)
		}
	}
	bench, end = c.run(t)
	defer end()
	if v := output(t, bench); v > 0.1 {
		t.Errorf("the supply gives %v V after the soak", v)
	}
}

// A bench that stops while a unit is on switches it off, writes the pause, and the
// soak goes on by itself with the next start; the time between is missing.
func TestStoppingSwitchesOff(t *testing.T) {
	c := newCycledBench(t, time.Minute, 1)
	bench, end := c.run(t)
	soak, err := bench.BeginSoak(t.Context(), logger.SoakRequest{Unit: "B8-0147"})
	if err != nil {
		t.Fatal(err)
	}
	for output(t, bench) < 1 {
	}
	end()
	pauses, err := c.book.Pauses(t.Context(), soak.ID)
	if err != nil || len(pauses) != 1 || !pauses[0].To.IsZero() {
		t.Fatalf("pauses %+v, %v", pauses, err)
	}
	bench, end = c.run(t)
	for output(t, bench) < 1 { // it takes the soak up and switches on again
	}
	if err := bench.EndSoak(t.Context(), "B8-0147", "seen enough"); err != nil {
		t.Fatal(err)
	}
	<-c.verdicts
	end()
	if pauses, err := c.book.Pauses(t.Context(), soak.ID); err != nil || len(pauses) != 1 || pauses[0].To.IsZero() {
		t.Errorf("pauses %+v, %v", pauses, err)
	}
}
