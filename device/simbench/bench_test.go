package simbench

import (
	"bufio"
	"context"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"go.uber.org/goleak"
	"golang.org/x/term"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// patience is how long a test waits for an answer that must come.
const patience = 5 * time.Second

// start runs a bench until the test ends and fails if it does not end cleanly.
func start(t testing.TB, c Config) *Bench {
	t.Helper()
	b, err := New(c)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- b.Run(ctx) }()
	t.Cleanup(func() {
		cancel()
		if err := <-ended; err != nil {
			t.Errorf("bench ended with %v", err)
		}
	})
	select {
	case <-b.Ready():
	case err := <-ended:
		ended <- nil
		t.Fatalf("bench did not start: %v", err)
	}
	return b
}

// deadlined is what a port and a connection have in common.
type deadlined interface {
	Read([]byte) (int, error)
	Write([]byte) (int, error)
	Close() error
	SetReadDeadline(time.Time) error
}

// peer is a reader that shares nothing with the bench but the port.
type peer struct {
	t    testing.TB
	line deadlined
	in   *bufio.Reader
}

// open opens an instrument's port as a plain file (or a plain connection).
func open(t testing.TB, b *Bench, name string) *peer {
	t.Helper()
	return openAt(t, b.Ports()[name])
}

func openAt(t testing.TB, address string) *peer {
	t.Helper()
	p := &peer{t: t}
	if host, ok := strings.CutPrefix(address, "tcp://"); ok {
		conn, err := net.Dial("tcp", host)
		if err != nil {
			t.Fatal(err)
		}
		p.line = conn
	} else {
		f, err := os.OpenFile(address, os.O_RDWR|noControllingTerminal, 0)
		if err != nil {
			t.Fatal(err)
		}
		makeRaw(t, f)
		p.line = f
	}
	p.in = bufio.NewReaderSize(p.line, 1<<20)
	t.Cleanup(func() { _ = p.line.Close() })
	return p
}

// makeRaw sets the terminal without taking the file out of non-blocking mode.
func makeRaw(t testing.TB, f *os.File) {
	t.Helper()
	raw, err := f.SyscallConn()
	if err != nil {
		t.Fatal(err)
	}
	var failed error
	if err := raw.Control(func(fd uintptr) { _, failed = term.MakeRaw(int(fd)) }); err != nil || failed != nil {
		t.Fatal(err, failed)
	}
}

func (p *peer) send(message string) {
	p.t.Helper()
	if _, err := p.line.Write([]byte(message + "\n")); err != nil {
		p.t.Fatalf("sending %q: %v", message, err)
	}
}

// read returns the next line with its end.
func (p *peer) read(within time.Duration) (string, error) {
	if err := p.line.SetReadDeadline(time.Now().Add(within)); err != nil {
		p.t.Fatal(err)
	}
	return p.in.ReadString('\n')
}

// ask returns the answer without its end.
func (p *peer) ask(query string) string {
	p.t.Helper()
	p.send(query)
	answer, err := p.read(patience)
	if err != nil {
		p.t.Fatalf("asked %q, got %q: %v", query, answer, err)
	}
	return strings.TrimRight(answer, "\r\n")
}

// errors drains the error queue and returns the codes in it.
func (p *peer) errors() string {
	p.t.Helper()
	var codes []string
	for {
		code, _, _ := strings.Cut(p.ask("SYST:ERR?"), ",")
		if code == "0" {
			return strings.Join(codes, " ")
		}
		codes = append(codes, code)
	}
}

// fast is the demonstration bench with a meter that answers at once and quick
// talkers.
func fast(t testing.TB) Config {
	c := DemoConfig(t.TempDir())
	for i := range c.Instruments {
		if m := c.Instruments[i].Meter; m != nil {
			m.IntegrationS = 0.001
		}
		if k := c.Instruments[i].Talker; k != nil {
			k.IntervalS = 0.005
		}
	}
	return c
}

// only keeps one instrument of a configuration.
func only(c Config, name string) *InstrumentConfig {
	for i := range c.Instruments {
		if c.Instruments[i].Name == name {
			return &c.Instruments[i]
		}
	}
	return nil
}

func TestRunTakesItsLinksAway(t *testing.T) {
	if !ptySupported {
		t.Skip("this system has no pseudo-terminals, so there are no links")
	}
	dir := t.TempDir()
	stale := filepath.Join(dir, "meter")
	if err := os.Symlink("/nowhere", stale); err != nil {
		t.Fatal(err)
	}
	t.Run("bench", func(t *testing.T) {
		c := DemoConfig(dir)
		b := start(t, c)
		if got := b.Ports()["meter"]; got != stale {
			t.Errorf("the meter is at %q, want %q", got, stale)
		}
		if got := open(t, b, "meter").ask("*IDN?"); got != "Saltmarsh,M6,S60017,1.4" {
			t.Errorf("*IDN? answered %q", got)
		}
	})
	left, err := os.ReadDir(dir)
	if err != nil || len(left) != 0 {
		t.Errorf("left behind: %v, %v", left, err)
	}
}

func TestRunRefusesAPlaceThatIsTaken(t *testing.T) {
	if !ptySupported {
		t.Skip("this system has no pseudo-terminals, so there are no links")
	}
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "scope"), []byte("keep"), 0o600); err != nil {
		t.Fatal(err)
	}
	b, err := New(DemoConfig(dir))
	if err != nil {
		t.Fatal(err)
	}
	if err := b.Run(t.Context()); err == nil || !strings.Contains(err.Error(), "no symbolic link") {
		t.Errorf("got %v", err)
	}
	if kept, err := os.ReadFile(filepath.Join(dir, "scope")); err != nil || string(kept) != "keep" {
		t.Errorf("the file became %q, %v", kept, err)
	}
	if _, err := os.Lstat(filepath.Join(dir, "meter")); err == nil {
		t.Error("the meter's link was left behind")
	}
}

func TestTheSameOverTCP(t *testing.T) {
	c := fast(t)
	for i := range c.Instruments {
		c.Instruments[i].Port = "127.0.0.1:0"
	}
	b := start(t, c)
	for range 2 { // one client after the other
		p := open(t, b, "meter")
		if got := p.ask("*IDN?"); got != "Saltmarsh,M6,S60017,1.4" {
			t.Errorf("*IDN? answered %q", got)
		}
		_ = p.line.Close()
	}
	before := b.Ports()["scope"]
	if err := b.Fault("scope", "unplug", "10ms"); err != nil {
		t.Fatal(err)
	}
	waitFor(t, "the scope to return", func() bool { return b.Ports()["scope"] == before })
	if got := open(t, b, "scope").ask("*IDN?"); got != "Saltmarsh,S2,S20044,2.0" {
		t.Errorf("*IDN? answered %q", got)
	}
}

// waitFor looks again and again until what is wanted is so.
func waitFor(t testing.TB, what string, so func() bool) {
	t.Helper()
	ticker := time.NewTicker(2 * time.Millisecond)
	defer ticker.Stop()
	late := time.After(patience)
	for !so() {
		select {
		case <-ticker.C:
		case <-late:
			t.Fatalf("waited in vain for %s", what)
		}
	}
}
