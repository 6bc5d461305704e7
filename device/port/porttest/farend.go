package porttest

import (
	"bufio"
	"io"
	"sync"
	"testing"
	"time"
)

// patience is how long the far end waits for the program under test before the
// test fails; it is a guard against hanging, not a measurement.
const patience = 20 * time.Second

// wire is one connection to the program under test.
type wire interface {
	io.ReadWriteCloser
	SetReadDeadline(time.Time) error
}

// FarEnd is the instrument's side of a line. It reads only when told to, so a
// fresh one is a peer that takes nothing. Its methods fail the test on trouble.
type FarEnd struct {
	t testing.TB

	mu      sync.Mutex
	wire    wire
	reader  *bufio.Reader
	answers sync.WaitGroup
}

// attach makes w the line in use.
func (f *FarEnd) attach(w wire) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.wire, f.reader = w, bufio.NewReader(w)
}

func (f *FarEnd) current() (wire, *bufio.Reader) {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.wire, f.reader
}

// Send puts text on the line as it is.
func (f *FarEnd) Send(text string) {
	f.t.Helper()
	w, _ := f.current()
	if _, err := io.WriteString(w, text); err != nil {
		f.t.Fatalf("far end: send %q: %v", text, err)
	}
}

// ReadLine waits for one line from the program and gives it with its LF.
func (f *FarEnd) ReadLine() string {
	f.t.Helper()
	w, r := f.current()
	if err := w.SetReadDeadline(time.Now().Add(patience)); err != nil {
		f.t.Fatalf("far end: %v", err)
	}
	text, err := r.ReadString('\n')
	if err != nil {
		f.t.Fatalf("far end: no whole line came, only %q: %v", text, err)
	}
	return text
}

// Read takes what has come, at least one byte, and gives an error once the
// program or the plug is gone.
func (f *FarEnd) Read(b []byte) (int, error) {
	_, r := f.current()
	return r.Read(b)
}

// Answer replies to every line that comes, until Stall or the end of the
// connection; an empty reply says nothing. Lines are handed over with their LF.
func (f *FarEnd) Answer(reply func(line string) string) {
	w, r := f.current()
	if err := w.SetReadDeadline(time.Time{}); err != nil {
		f.t.Fatalf("far end: %v", err)
	}
	f.answers.Go(func() {
		for {
			line, err := r.ReadString('\n')
			if err != nil {
				return // stalled, or the connection has ended
			}
			if _, err := io.WriteString(w, reply(line)); err != nil {
				return
			}
		}
	})
}

// Stall ends Answer: from now on nobody takes what the program sends.
func (f *FarEnd) Stall() {
	w, _ := f.current()
	if err := w.SetReadDeadline(time.Unix(1, 0)); err != nil {
		f.t.Errorf("far end: stall: %v", err)
	}
	f.answers.Wait()
}

// end closes the connection and waits for Answer.
func (f *FarEnd) end() {
	w, _ := f.current()
	if w != nil {
		// A second end finds it closed.
		_ = w.Close()
	}
	f.answers.Wait()
}
