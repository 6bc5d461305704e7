package port

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"testing"

	"soakline/device/port/porttest"

	"go.bug.st/serial"
	"go.uber.org/goleak"
)

// The test binary runs itself as another process, and as another user, to see
// from there what a port looks like: childTask says what to do with childPort.
const (
	childTask = "PORT_TEST_TASK"
	childPort = "PORT_TEST_PORT"
)

// childReport is what the child says in one line of JSON.
type childReport struct {
	Kind      Kind
	Hint      string
	Transient bool
	Text      string
}

func TestMain(m *testing.M) {
	if task := os.Getenv(childTask); task != "" {
		if err := runChild(task, os.Getenv(childPort)); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		return
	}
	goleak.VerifyTestMain(m)
}

// runChild opens the port, reports, and for "hold" keeps it until its standard
// input ends.
func runChild(task, address string) error {
	var report childReport
	p, err := Open(context.Background(), address, plain)
	if e, ok := errors.AsType[*Error](err); ok {
		report = childReport{Kind: e.Kind, Hint: e.Hint, Transient: e.Transient(), Text: e.Error()}
	}
	if err := json.NewEncoder(os.Stdout).Encode(report); err != nil {
		return err
	}
	if task == "hold" && p != nil {
		_, err := io.Copy(io.Discard, os.Stdin)
		return errors.Join(err, p.Close())
	}
	return nil
}

func newCable(t testing.TB) *porttest.Cable { return porttest.NewCable(t) }

// ways are the two kinds of line that a serial port can have; each keeps the same
// promises.
var ways = map[string]func(testing.TB, string) *Port{
	"own descriptor": openOwn,
	"library":        openLibrary,
}

func openOwn(t testing.TB, address string) *Port {
	t.Helper()
	p, err := Open(t.Context(), address, plain)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := p.Close(); err != nil {
			t.Errorf("close: %v", err)
		}
	})
	return p
}

func openLibrary(t testing.TB, address string) *Port {
	t.Helper()
	name, err := resolve(address)
	if err != nil {
		t.Fatal(err)
	}
	lib, err := serial.Open(name, plain.mode())
	if err != nil {
		t.Fatal(err)
	}
	line, err := newSlicedLine(lib, func() error { return nil })
	if err != nil {
		t.Fatal(err)
	}
	p := &Port{address: address, name: name, line: line}
	t.Cleanup(func() {
		if err := p.Close(); err != nil {
			t.Errorf("close: %v", err)
		}
	})
	return p
}

func eachWay(t *testing.T, test func(*testing.T, *porttest.Cable, *Port)) {
	t.Helper()
	for name, open := range ways {
		t.Run(name, func(t *testing.T) {
			c := newCable(t)
			test(t, c, open(t, c.Path()))
		})
	}
}

// readText reads once.
func readText(t *testing.T, p *Port, size int) string {
	t.Helper()
	b := make([]byte, size)
	n, err := p.Read(t.Context(), b)
	if err != nil {
		t.Fatal(err)
	}
	return string(b[:n])
}

// readAll reads until as many bytes as want has are there, and compares.
func readAll(t *testing.T, p *Port, want string) {
	t.Helper()
	var got string
	for len(got) < len(want) {
		got += readText(t, p, 64)
	}
	if got != want {
		t.Errorf("read %q, want %q", got, want)
	}
}
