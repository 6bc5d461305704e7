package devicetest

import (
	"fmt"
	"strings"
	"sync"
	"testing"
	"time"

	"soakline/device"
)

// patience is how long a test waits for what must come; a guard against hanging,
// not a measurement.
const patience = 30 * time.Second

// Delivered is a reading as a sink took it.
type Delivered struct {
	Channel string
	device.Reading
}

// Recorder is a device.Sink that keeps everything.
type Recorder struct {
	mu       sync.Mutex
	readings []Delivered
	captures []device.Capture
	events   []device.Event
	news     chan struct{}
}

var _ device.Sink = (*Recorder)(nil)

// NewRecorder returns an empty Recorder.
func NewRecorder() *Recorder { return &Recorder{news: make(chan struct{})} }

// TakeReading keeps a reading.
func (r *Recorder) TakeReading(_, channel string, reading device.Reading) {
	r.add(func() { r.readings = append(r.readings, Delivered{channel, reading}) })
}

// TakeCapture keeps a capture.
func (r *Recorder) TakeCapture(_, _ string, c device.Capture) {
	r.add(func() { r.captures = append(r.captures, c) })
}

// TakeEvent keeps an event.
func (r *Recorder) TakeEvent(e device.Event) { r.add(func() { r.events = append(r.events, e) }) }

func (r *Recorder) add(change func()) {
	r.mu.Lock()
	defer r.mu.Unlock()
	change()
	close(r.news)
	r.news = make(chan struct{})
}

// Readings returns what was read so far.
func (r *Recorder) Readings() []Delivered {
	r.mu.Lock()
	defer r.mu.Unlock()
	return append([]Delivered(nil), r.readings...)
}

// Captures returns the records so far.
func (r *Recorder) Captures() []device.Capture {
	r.mu.Lock()
	defer r.mu.Unlock()
	return append([]device.Capture(nil), r.captures...)
}

// Events returns what happened so far.
func (r *Recorder) Events() []device.Event {
	r.mu.Lock()
	defer r.mu.Unlock()
	return append([]device.Event(nil), r.events...)
}

// Await waits until is true, which is looked at after each delivery, and fails
// the test if it never is.
func (r *Recorder) Await(t testing.TB, what string, is func() bool) {
	t.Helper()
	timer := time.NewTimer(patience)
	defer timer.Stop()
	for {
		r.mu.Lock()
		news := r.news
		r.mu.Unlock()
		if is() {
			return
		}
		select {
		case <-news:
		case <-timer.C:
			t.Fatalf("no %s within %s; %d readings; events:\n%s", what, patience, len(r.Readings()), r.story())
		}
	}
}

// AwaitReadings waits for n more readings.
func (r *Recorder) AwaitReadings(t testing.TB, n int) {
	t.Helper()
	want := len(r.Readings()) + n
	r.Await(t, fmt.Sprintf("%d more readings", n), func() bool { return len(r.Readings()) >= want })
}

// AwaitEvent waits for an event of a kind after the first skip events, and returns it.
func (r *Recorder) AwaitEvent(t testing.TB, kind device.Kind, skip int) (found device.Event) {
	t.Helper()
	r.Await(t, "event "+string(kind), func() bool {
		for _, e := range r.Events()[skip:] {
			if e.Kind == kind {
				found = e
				return true
			}
		}
		return false
	})
	return found
}

// story is every event, one a line.
func (r *Recorder) story() string {
	var b strings.Builder
	for _, e := range r.Events() {
		fmt.Fprintf(&b, "  %s: %s\n", e.Kind, e.Text)
	}
	return b.String()
}
