package page_test

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"io"
	"log/slog"
	"math"
	"net"
	"net/http"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"soakline/checks"
	"soakline/device"
	"soakline/logger"
	"soakline/logger/book"
	"soakline/logger/page"
)

// railSheet has one rail that is read every second; its figures are invented.
func railSheet() checks.Sheet {
	limit := checks.Limit{Low: 4.75, High: 5.25, Nominal: 5, Source: "for the test", Guard: checks.GuardBand{Rule: checks.GuardBanded, Width: 0.05}}
	return checks.Sheet{Name: "rails", Console: "Brambling 8", Hash: book.HashSheet([]byte(sheetText)),
		Soak: checks.SoakPlan{Duration: time.Hour, EvidenceAtLeast: 0.9, LongestGap: 5 * time.Minute},
		TestPoints: []checks.TestPoint{{Name: "rail-5v", Checks: []checks.Check{{Measure: device.DCVoltage, Limit: limit,
			Every: time.Second, FreshFor: time.Minute}}}}}
}

// live is a bench behind a real listener. Its meter is not there: what it reads
// comes from the test.
type live struct {
	*logger.Bench
	book *book.Book
	// base is its address as a page's begins.
	base string
	stop func()
}

// startLive runs bench and server until the test ends, or stop is called. What has
// to be in the book before is put there by fill.
func startLive(t testing.TB, fill ...func(testing.TB, *book.Book)) *live {
	t.Helper()
	return startBench(t, railSettings(t), railSheet(), fill...)
}

// railSettings is a bench of one meter and one place.
func railSettings(t testing.TB) logger.Settings {
	return logger.Settings{Bench: "pier-end", Book: filepath.Join(t.TempDir(), "live.book"), CommitEvery: 20 * time.Millisecond, Sheets: []checks.Sheet{railSheet()},
		Instruments: []logger.InstrumentSettings{{Name: "meter", Port: filepath.Join(t.TempDir(), "none"), Commands: device.CommandSet{
			Line: device.LineSettings{Baud: 9600, DataBits: 8, Parity: "none", StopBits: "1", Flow: "none", SendEnding: "lf"},
			Asks: []device.Ask{{Measure: device.DCVoltage, Send: "MEASure:VOLTage:DC?"}}}}},
		Places: []logger.Place{{Name: "left", Connections: []logger.Connection{{TestPoint: "rail-5v", Instrument: "meter", Channel: "101"}}}}}
}

// startBench runs a bench with one sheet and its server; its book has one unit.
func startBench(t testing.TB, settings logger.Settings, sheet checks.Sheet, fill ...func(testing.TB, *book.Book)) *live {
	t.Helper()
	b, err := book.Open(t.Context(), settings.Book, book.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if err := b.AddUnit(t.Context(), book.Unit{ID: "B8-0147", Console: "Brambling 8"}); err != nil {
		t.Fatal(err)
	}
	for _, put := range fill {
		put(t, b)
	}
	l := &live{book: b, Bench: logger.NewBench(settings, logger.Options{Book: b, Log: slog.New(slog.DiscardHandler), SheetTexts: map[string][]byte{sheet.Hash: []byte(sheetText)},
		ParseSheet: func(string, []byte) (checks.Sheet, error) { return sheet, nil }})}
	l.serve(t)
	return l
}

// serve runs bench and server.
func (l *live) serve(t testing.TB) {
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	l.base = "http://" + listener.Addr().String()
	server := page.NewServer(l.Bench, http.NotFoundHandler(), "", slog.New(slog.DiscardHandler))
	ctx, stop := context.WithCancel(context.Background())
	ended := make(chan error, 2)
	go func() { ended <- l.Run(ctx) }()
	go func() { ended <- server.Run(ctx, listener) }()
	stopped := false
	l.stop = func() {
		if stopped {
			return
		}
		stopped = true
		stop()
		if err := errors.Join(<-ended, <-ended, l.book.Close()); err != nil {
			t.Error(err)
		}
	}
	t.Cleanup(l.stop)
	if _, err := l.Snapshot(t.Context()); err != nil { // it is at work
		t.Fatal(err)
	}
}

// volts is a reading of the meter that arrives now.
func (l *live) volts(v float64) {
	l.TakeReading("meter", "101", device.Reading{Measure: device.DCVoltage, Value: v, At: time.Now()})
}

// soak begins a soak of the unit.
func (l *live) soak(t testing.TB) book.Soak {
	t.Helper()
	soak, err := l.BeginSoak(t.Context(), logger.SoakRequest{Unit: "B8-0147"})
	if err != nil {
		t.Fatal(err)
	}
	return soak
}

// event is one event of the stream.
type event struct {
	kind, id string
	data     []byte
}

// stream is an open event stream.
type stream struct {
	t     testing.TB
	body  io.ReadCloser
	lines *bufio.Scanner
}

// openEvents opens the event stream of a bench; last is what the page had last.
func (l *live) openEvents(t testing.TB, last string) *stream {
	t.Helper()
	request, err := http.NewRequestWithContext(t.Context(), http.MethodGet, l.base+"/api/v1/events", nil)
	if err != nil {
		t.Fatal(err)
	}
	if last != "" {
		request.Header.Set("Last-Event-ID", last)
	}
	response, err := http.DefaultClient.Do(request)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { response.Body.Close() })
	if response.StatusCode != http.StatusOK || response.Header.Get("Content-Type") != "text/event-stream" {
		t.Fatalf("%s, %s", response.Status, response.Header.Get("Content-Type"))
	}
	lines := bufio.NewScanner(response.Body)
	lines.Buffer(nil, 4<<20)
	return &stream{t: t, body: response.Body, lines: lines}
}

// next returns the next event; false at the end of the stream.
func (s *stream) next() (event, bool) {
	var e event
	for s.lines.Scan() {
		name, value, _ := strings.Cut(s.lines.Text(), ": ")
		switch name {
		case "event":
			e.kind = value
		case "id":
			e.id = value
		case "data":
			e.data = []byte(value)
		case "":
			if e.kind != "" {
				return e, true
			}
		}
	}
	return e, false
}

// until reads events until one pleases.
func (s *stream) until(pleases func(event) bool) event {
	s.t.Helper()
	for {
		e, ok := s.next()
		if !ok {
			s.t.Fatalf("the stream ended: %v", s.lines.Err())
		}
		if pleases(e) {
			return e
		}
	}
}

// happening reads on to a happening of a kind.
func (s *stream) happening(kind logger.HappeningKind) page.HappeningView {
	s.t.Helper()
	var view page.HappeningView
	s.until(func(e event) bool {
		view = page.HappeningView{}
		return e.kind == "happening" && json.Unmarshal(e.data, &view) == nil && view.Kind == kind
	})
	return view
}

// value reads on until a check stands at a value.
func (s *stream) value(v float64) {
	s.t.Helper()
	s.until(func(e event) bool {
		var change page.LiveChange
		return e.kind == "change" && json.Unmarshal(e.data, &change) == nil && len(change.Checks) > 0 &&
			change.Checks[0].Value != nil && math.Abs(*change.Checks[0].Value-v) < 1e-12
	})
}

func TestEventsTellWhatChanges(t *testing.T) {
	t.Parallel()
	l := startLive(t)
	events := l.openEvents(t, "")
	first, _ := events.next()
	var snapshot page.LiveSnapshot
	if err := json.Unmarshal(first.data, &snapshot); err != nil || first.kind != "snapshot" || snapshot.Bench.Bench != "pier-end" || snapshot.Run == "" {
		t.Fatalf("%s %s %v", first.kind, first.data, err)
	}
	soak := l.soak(t)
	if begun := events.happening(logger.SoakBegun); begun.Unit != "B8-0147" || begun.Soak != int64(soak.ID) {
		t.Errorf("%+v", begun)
	}
	l.volts(5.012)
	events.value(5.012)
	l.volts(5.6)
	if e := events.happening(logger.ExcursionBegan); e.Excursion == nil || e.Excursion.Worst != 5.6 || e.TestPoint != "rail-5v" {
		t.Errorf("%+v", e)
	}
	l.volts(5.01)
	events.happening(logger.ExcursionOver)
	if err := l.EndSoak(t.Context(), "B8-0147", "the test is over"); err != nil {
		t.Fatal(err)
	}
	if e := events.happening(logger.SoakOver); e.Text != "the test is over" {
		t.Errorf("%+v", e)
	}
	if e := events.happening(logger.VerdictGiven); e.Verdict == nil || e.Verdict.Outcome != checks.Fail {
		t.Errorf("%+v", e)
	}
}

// TestMissedHappeningsComeBack: a page that lost its stream gets what happened
// meanwhile, once, and then all of the bench.
func TestMissedHappeningsComeBack(t *testing.T) {
	t.Parallel()
	l := startLive(t)
	events := l.openEvents(t, "")
	first, _ := events.next()
	events.body.Close()
	l.soak(t)
	other := l.openEvents(t, "") // so that the hub has heard of it before
	other.until(func(e event) bool { return e.kind == "snapshot" })
	again := l.openEvents(t, first.id)
	if begun := again.happening(logger.SoakBegun); begun.Unit != "B8-0147" {
		t.Errorf("%+v", begun)
	}
	if e, _ := again.next(); e.kind == "happening" {
		t.Errorf("after it came %s %s", e.kind, e.data)
	}
	elsewhere := l.openEvents(t, "another-7")
	if e, _ := elsewhere.next(); e.kind != "snapshot" {
		t.Errorf("an event of another run brings %s", e.kind)
	}
}

// TestEventsEndWithTheBench: the stream ends when the daemon stops, so that the
// page notices.
func TestEventsEndWithTheBench(t *testing.T) {
	t.Parallel()
	l := startLive(t)
	events := l.openEvents(t, "")
	events.until(func(e event) bool { return e.kind == "snapshot" })
	l.stop()
	for {
		if _, ok := events.next(); !ok {
			return
		}
	}
}

// background runs work until the returned function is called.
func background(ctx context.Context, work func(context.Context) error) (stop func() error) {
	ctx, cancel := context.WithCancel(ctx)
	ended := make(chan error, 1)
	go func() { ended <- work(ctx) }()
	return func() error {
		cancel()
		return <-ended
	}
}

// send sends a request of a program and returns status and body.
func (l *live) send(t testing.TB, method, path, body string) (int, []byte) {
	t.Helper()
	request, err := http.NewRequestWithContext(t.Context(), method, l.base+path, strings.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	request.Header.Set("Content-Type", "application/json")
	response, err := http.DefaultClient.Do(request)
	if err != nil {
		t.Fatal(err)
	}
	defer response.Body.Close()
	text, err := io.ReadAll(response.Body)
	if err != nil {
		t.Fatal(err)
	}
	return response.StatusCode, text
}
