package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
	"testing"
	"time"

	"soakline/config"
	"soakline/device"
	"soakline/device/port"
	"soakline/device/simbench"
	"soakline/logger"
	"soakline/logger/book"
)

// offWithin is how soon after a kill the output must be off. It takes about 0.2 s on a
// machine that has nothing else to do.
const offWithin = 5 * time.Second

// switchingSheet switches its unit by the supply; all figures are invented.
const switchingSheet = `name: switching
console: Brambling 8
soak:
  duration: 10m
  evidence_at_least_pct: 1
  longest_gap: 5m
  power_cycles: {test_point: supply, cycles: 2, on: 20s, off: 1s}
test_points:
  - name: rail-5v
    measure: dc-voltage
    every: 200ms
    settle: 1s
    limit: {low_v: 4.75, high_v: 5.25, source: for the test, guard: {rule: simple}}
  - name: supply
    measure: dc-current
    every: 200ms
    settle: 1s
    limit: {low_a: 0.01, high_a: 3, source: for the test, guard: {rule: simple}}
`

// switchingBench is a simulated bench in this process, whose supply feeds the unit,
// and a daemon in another.
type switchingBench struct {
	killedBench
	sim *simbench.Bench
}

func newSwitchingBench(t *testing.T) *switchingBench {
	t.Helper()
	if runtime.GOOS == "windows" {
		t.Skip("signals are sent here, which this system does not have")
	}
	dir := t.TempDir()
	settings := simbench.DemoConfig(dir)
	settings.Units[0].Reservoir.RegulatesDownToV = 5 // the rail is gone within the pause
	for i := range settings.Instruments {
		if s := settings.Instruments[i].Supply; s != nil {
			s.Feeds, s.OutputOn = "B8-0147", false
		}
	}
	sim, err := simbench.New(settings)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- sim.Run(ctx) }()
	t.Cleanup(func() {
		cancel()
		if err := <-ended; err != nil {
			t.Error(err)
		}
	})
	<-sim.Ready()
	s := &switchingBench{sim: sim, killedBench: killedBench{file: filepath.Join(dir, "bench.yaml"), book: filepath.Join(dir, "test.book")}}
	for name, text := range map[string]string{"switching.yaml": switchingSheet, "bench.yaml": `bench: pier-end
book: test.book
sheets: [switching.yaml]
instruments:
  - {name: meter, port: ` + sim.Ports()["meter"] + `, command_set: scpi-meter}
  - {name: supply, port: ` + sim.Ports()["supply"] + `, command_set: scpi-supply}
places:
  - name: left
    connections:
      - {test_point: rail-5v, instrument: meter, channel: 101}
      - {test_point: supply, instrument: supply}
`} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return s
}

// soaking starts the daemon and a soak, and waits until the unit is on.
func (s *switchingBench) soaking(t *testing.T) {
	t.Helper()
	s.serve(t)
	for _, command := range [][]string{{"unit", "add", "B8-0147", "--console", "Brambling 8"}, {"soak", "begin", "--unit", "B8-0147"}} {
		if output, err := s.run(command...); err != nil {
			t.Fatalf("%v: %s", err, output)
		}
	}
	s.awaitPower(t, true)
}

func (s *switchingBench) awaitPower(t *testing.T, on bool) {
	t.Helper()
	waitFor(t, "the output to be switched", func() bool { return s.sim.Powered("B8-0147") == on })
}

// The daemon is killed in the middle of a time on: who stands by switches the output
// off. With the next start it is switched off first, which the book says, the soak
// goes on, and the cycle that was cut short does not count.
func TestKilledDaemonLeavesTheOutputOff(t *testing.T) {
	s := newSwitchingBench(t)
	s.soaking(t)
	killed := time.Now()
	if err := s.daemon.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	s.awaitPower(t, false)
	took := time.Since(killed)
	t.Logf("off %s after the kill", took.Round(time.Millisecond))
	if took > offWithin {
		t.Errorf("off only %s after the kill", took)
	}
	_ = s.daemon.Wait() // also for who stands by, which writes to the same log
	if said := s.daemon.log.String(); !strings.Contains(said, "the output of supply was switched off") {
		t.Errorf("it is not said in %q", said)
	}
	s.serve(t)
	s.awaitPower(t, true)
	if output, err := s.run("soak", "end", "--unit", "B8-0147", "--reason", "end of the test"); err != nil {
		t.Fatalf("%v: %s", err, output)
	}
	s.awaitPower(t, false)
	var shown string
	waitFor(t, "the verdict", func() (ok bool) {
		var err error
		shown, err = s.run("soak", "show", "1")
		return err == nil && strings.Contains(shown, "power cycles")
	})
	if !strings.Contains(shown, "0 of 2 power cycles were done; the program was away once, and what that cut short does not count") {
		t.Errorf("soak show:\n%s", shown)
	}
	s.terminate(t, syscall.SIGTERM)
	s.toldOf(t, "the program was away, and nobody knows how the output was: it is switched off first")
}

// toldOf looks for an event of the power cycles in the book.
func (s *switchingBench) toldOf(t *testing.T, want string) {
	t.Helper()
	b, err := book.Open(t.Context(), s.book, book.Options{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	events, err := b.Events(t.Context(), "pier-end", time.Now().Add(-time.Hour), time.Now().Add(time.Hour))
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range events {
		if e.Kind == logger.PowerCycled && strings.Contains(e.Text, want) {
			return
		}
	}
	t.Errorf("%q is not among %+v", want, events)
}

// terminate has the daemon end by itself; its end is also that of who stood by.
func (s *switchingBench) terminate(t *testing.T, by os.Signal) {
	t.Helper()
	if err := s.daemon.Process.Signal(by); err != nil {
		t.Fatal(err)
	}
	if err := s.daemon.Wait(); err != nil {
		t.Errorf("%v\n%s", err, s.daemon.log)
	}
}

// Told to stop, the daemon switches off before it ends, and nobody stands by any more.
func TestStoppedDaemonLeavesTheOutputOff(t *testing.T) {
	for _, by := range []os.Signal{syscall.SIGTERM, os.Interrupt} {
		t.Run(by.String(), func(t *testing.T) {
			s := newSwitchingBench(t)
			s.soaking(t)
			s.terminate(t, by)
			if s.sim.Powered("B8-0147") {
				t.Error("the output is on")
			}
			if said := s.daemon.log.String(); strings.Contains(said, "was killed") {
				t.Errorf("who stood by took it for a kill: %s", said)
			}
		})
	}
}

// A port that somebody else has is tried again until it is free.
func TestStandingByForABusyPort(t *testing.T) {
	s := newSwitchingBench(t)
	set, err := config.ShippedCommandSet("scpi-supply")
	if err != nil {
		t.Fatal(err)
	}
	path := s.sim.Ports()["supply"]
	held, err := port.Open(t.Context(), path, port.Settings{Baud: 9600, DataBits: 8, Parity: "none", StopBits: "1", Flow: "none"})
	if err != nil {
		t.Fatal(err)
	}
	if err := held.Write(t.Context(), []byte("OUTPut ON\n")); err != nil {
		t.Fatal(err)
	}
	s.awaitPower(t, true)
	var log bytes.Buffer
	done := make(chan error, 1)
	go func() {
		done <- switchAllOff(context.Background(), []logger.CoveredOutput{{Link: device.Link{Name: "supply", Port: path, Commands: set}}}, &log)
	}()
	select {
	case err := <-done:
		t.Fatalf("it has ended with the port busy: %v", err)
	case <-time.After(500 * time.Millisecond):
	}
	if !s.sim.Powered("B8-0147") {
		t.Error("the output is off with the port busy")
	}
	if err := held.Close(); err != nil {
		t.Fatal(err)
	}
	if err := <-done; err != nil || s.sim.Powered("B8-0147") || !strings.Contains(log.String(), "was switched off") {
		t.Errorf("%v, %q", err, log.String())
	}
}

// A pipe that ends without the word leaves what was told last; one that brings
// something else says so.
func TestHearOutputs(t *testing.T) {
	for _, row := range []struct {
		name, pipe, answers string
		left                int
		fails               bool
	}{
		{"nothing", "", "", 0, false},
		{"killed", `[{"Channel":"1"},{"Channel":"2"}]` + "\n", "covered\n", 2, false},
		{"all off", `[{"Channel":"1"}]` + "\nnull\n", "covered\ncovered\n", 0, false},
		{"killed in the middle of a word", `[{"Channel":"1"}]` + "\n" + `[{"Chan`, "covered\n", 1, false},
		{"something else", "hello\n", "", 0, true},
	} {
		var answers bytes.Buffer
		left, err := hearOutputs(strings.NewReader(row.pipe), &answers)
		if len(left) != row.left || answers.String() != row.answers || (err != nil) != row.fails {
			t.Errorf("%s: %+v, %q, %v", row.name, left, answers.String(), err)
		}
	}
}
