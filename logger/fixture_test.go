package logger

import (
	"bytes"
	"context"
	"errors"
	"log/slog"
	"math"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"go.uber.org/goleak"

	"soakline/checks"
	"soakline/device"
	"soakline/device/scpi"
	"soakline/logger/book"
)

func TestMain(m *testing.M) {
	if err := wakeBook(); err != nil {
		panic(err)
	}
	goleak.VerifyTestMain(m)
}

// wakeBook writes and reads a book once: what the book makes once for the whole
// process must not be made in a bubble of time, where only that bubble could use it.
func wakeBook() (err error) {
	dir, err := os.MkdirTemp("", "soakline-logger-")
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
	ctx, stop := context.WithCancel(context.Background())
	defer stop()
	b, err := book.Open(ctx, filepath.Join(dir, "first.book"), book.Options{})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, b.Close()) }()
	writer, ended := book.NewWriter(b, book.WriterOptions{}), make(chan error, 1)
	go func() { ended <- writer.Run(ctx) }()
	begin, tag := time.Now(), book.Tag{Unit: "B8-0147", Measure: device.DCVoltage}
	for i := range 20000 {
		r := device.Reading{Measure: device.DCVoltage, Value: float64(i), At: begin.Add(time.Duration(i) * time.Second)}
		if err := writer.Append(book.TaggedReading{Tag: tag, Reading: r}); err != nil {
			return err
		}
	}
	if err := writer.Flush(ctx); err != nil {
		return err
	}
	for i := range 3 { // a few, and a commit of their own each
		r := device.Reading{Measure: device.DCVoltage, Value: 5.02, At: begin.Add(time.Duration(20000+i) * time.Second)}
		err := writer.Append(book.TaggedReading{Tag: tag, Reading: r})
		if err := errors.Join(err, writer.Flush(ctx)); err != nil {
			return err
		}
	}
	for _, err := range b.Readings(ctx, book.Filter{}) {
		if err != nil {
			return err
		}
	}
	stop()
	return <-ended
}

const (
	rail  = "101" // the left place's channel
	other = "111" // the right place's
)

var sheetText = []byte("the test sheet of the fixture")

// testSheet checks one rail every second; all its figures are invented.
func testSheet() checks.Sheet {
	return checks.Sheet{Name: "fixture", Console: "Brambling 8", Hash: book.HashSheet(sheetText),
		Soak: checks.SoakPlan{Duration: time.Hour, EvidenceAtLeast: 0.99, LongestGap: 5 * time.Minute},
		TestPoints: []checks.TestPoint{{Name: "rail-5v", Checks: []checks.Check{{Measure: device.DCVoltage,
			Limit: checks.Limit{Low: 4.75, High: 5.25, Nominal: math.NaN(), Source: "common practice, no source", Guard: checks.GuardBand{Rule: checks.Simple}},
			Every: time.Second, FreshFor: 3 * time.Second, Hold: 2 * time.Second, Settle: 5 * time.Second}}}}}
}

// testSettings is a bench of two places, wired to a meter whose port is not there:
// what the bench takes in comes from the tests.
func testSettings(t *testing.T) Settings {
	s := goodSettings()
	s.Book = filepath.Join(t.TempDir(), "pier.book")
	s.Instruments[0].Port = filepath.Join(t.TempDir(), "no-port")
	s.Places = []Place{
		{Name: "left", Connections: []Connection{{TestPoint: "rail-5v", Instrument: "meter", Channel: rail}}},
		{Name: "right", Connections: []Connection{{TestPoint: "rail-5v", Instrument: "meter", Channel: other}}},
		{Name: "shelf", Connections: []Connection{{TestPoint: "composite", Instrument: "meter", Channel: "9"}}},
	}
	s.Sheets = []checks.Sheet{testSheet()}
	return s
}

// rig is a bench at work with a real book.
type rig struct {
	*Bench
	t        *testing.T
	book     *book.Book
	clock    *testClock
	log      *syncBuffer
	finished chan FinishedSoak
	stop     context.CancelFunc
	ended    chan error
}

// testClock is a bench's clock that tests can make stray.
type testClock struct {
	mu     sync.Mutex
	offset time.Duration // of Now, set by Shift
	stray  scpi.Stray
}

func (c *testClock) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return time.Now().Add(c.offset)
}

func (c *testClock) Strayed() scpi.Stray {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.stray
}

func (c *testClock) Shift(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.offset += d
	c.stray.Ahead -= d
	c.stray.Slept = 0
}

func (c *testClock) set(stray scpi.Stray) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.stray = stray
}

// reach lets the time pass until a moment, which nobody takes for a clock that strays.
func (c *testClock) reach(at time.Time) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.offset = time.Until(at)
}

// syncBuffer is a log that several goroutines write to.
type syncBuffer struct {
	mu  sync.Mutex
	buf bytes.Buffer
}

func (b *syncBuffer) Write(p []byte) (int, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.buf.Write(p)
}

func (b *syncBuffer) String() string {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.buf.String()
}

// startRig opens the book and runs a bench; close ends both.
func startRig(t *testing.T, settings Settings) *rig {
	t.Helper()
	kept, err := book.Open(t.Context(), settings.Book, book.Options{})
	if err != nil {
		t.Fatal(err)
	}
	r := &rig{t: t, book: kept, clock: &testClock{stray: scpi.Stray{SleepKnown: true}}, log: &syncBuffer{},
		finished: make(chan FinishedSoak, 64), ended: make(chan error, 1)}
	r.Bench = NewBench(settings, Options{Book: kept, Clock: r.clock, Log: slog.New(slog.NewTextHandler(r.log, nil)),
		ParseSheet: func(name string, text []byte) (checks.Sheet, error) {
			if !bytes.Equal(text, sheetText) {
				return checks.Sheet{}, errors.New("another sheet")
			}
			return testSheet(), nil
		},
		SheetTexts: map[string][]byte{book.HashSheet(sheetText): sheetText},
		Finished:   func(f FinishedSoak) { r.finished <- f }})
	return r
}

// run runs the bench and books two units in, if they are not there yet.
func (r *rig) run() *rig {
	r.t.Helper()
	ctx, stop := context.WithCancel(context.WithoutCancel(r.t.Context()))
	r.stop = stop
	go func() { r.ended <- r.Run(ctx) }()
	for _, id := range []checks.UnitID{"B8-0147", "B8-0148", "B8-0149"} {
		if err := r.AddUnit(r.t.Context(), book.Unit{ID: id, Console: "Brambling 8"}); err != nil && !errors.Is(err, book.ErrExists) {
			r.t.Fatal(err)
		}
	}
	r.sync() // the owner is at work
	return r
}

// close ends the bench and its book.
func (r *rig) close() {
	r.t.Helper()
	r.stop()
	if err := <-r.ended; err != nil {
		r.t.Errorf("the bench ended with %v", err)
	}
	if err := r.book.Close(); err != nil {
		r.t.Error(err)
	}
}

func (r *rig) begin(unit checks.UnitID, place string, length time.Duration) book.Soak {
	r.t.Helper()
	soak, err := r.BeginSoak(r.t.Context(), SoakRequest{Unit: unit, Place: place, For: length})
	if err != nil {
		r.t.Fatal(err)
	}
	return soak
}

// volts is a reading of the meter that arrives now.
func (r *rig) volts(channel string, v float64) { r.reading(channel, v, r.now()) }

func (r *rig) reading(channel string, v float64, at time.Time) {
	r.TakeReading("meter", channel, device.Reading{Measure: device.DCVoltage, Value: v, At: at})
}

// sync waits until the owner has taken all that was sent before.
func (r *rig) sync() {
	r.t.Helper()
	for drained := false; !drained; {
		if err := r.ask(r.t.Context(), func() { drained = len(r.inbox) == 0 }); err != nil {
			r.t.Fatal(err)
		}
	}
}

// live is the soak of a unit as the owner has it.
func (r *rig) live(unit checks.UnitID) *liveSoak {
	r.t.Helper()
	var found *liveSoak
	if err := r.ask(r.t.Context(), func() {
		for _, soak := range r.soaks {
			if soak.unit == unit {
				found = soak
			}
		}
	}); err != nil {
		r.t.Fatal(err)
	}
	if found == nil {
		r.t.Fatalf("%s is not on a soak", unit)
	}
	return found
}

// events are those of an instrument that the book has.
func (r *rig) events(instrument string) []book.Event {
	r.t.Helper()
	if err := r.writer.Flush(r.t.Context()); err != nil && !errors.Is(err, book.ErrStopped) {
		r.t.Fatal(err)
	}
	all, err := r.book.Events(r.t.Context(), "", time.Time{}, time.Time{})
	if err != nil {
		r.t.Fatal(err)
	}
	var some []book.Event
	for _, e := range all {
		if e.Instrument == instrument {
			some = append(some, e)
		}
	}
	return some
}

// encoded is a verdict as the book keeps it: equal verdicts, equal bytes.
func encoded(t *testing.T, v checks.Verdict) string {
	t.Helper()
	text, err := book.EncodeVerdict(v)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}
