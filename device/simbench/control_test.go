package simbench

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"io"
	"strings"
	"testing"
)

func TestControl(t *testing.T) {
	b := start(t, fast(t))
	var out strings.Builder
	lines := strings.Join([]string{
		"fault meter silence 3s", "", "clear meter", `fault meter error 7 "two words"`, "fault meter nonsense",
		"fault nobody silence", "fault meter", "dance", `fault "meter`, "ports now", "time\r",
	}, "\n")
	if err := b.Control(t.Context(), strings.NewReader(lines), &out); err != nil {
		t.Fatal(err)
	}
	want := []string{
		"done", "done", "done", "error: fault nonsense of meter: there is no such fault",
		"error: fault silence of nobody: there is no instrument or unit of that name; there are meter, scope, thermometer, supply, B8-0147, CC-0031",
		"error: wants fault TARGET NAME [ARGS], clear TARGET, ports or time",
		"error: wants fault TARGET NAME [ARGS], clear TARGET, ports or time",
		"error: a quote is not closed",
		"error: wants fault TARGET NAME [ARGS], clear TARGET, ports or time",
	}
	got := strings.Split(strings.TrimSpace(out.String()), "\n")
	if len(got) != len(want)+1 {
		t.Fatalf("%d answers: %q", len(got), got)
	}
	for i := range want {
		if got[i] != want[i] {
			t.Errorf("answer %d is %q, want %q", i, got[i], want[i])
		}
	}
	if v := figure(t, got[len(want)]); v < 0 || v > 60 {
		t.Errorf("the time is %g s", v)
	}
	p := open(t, b, "meter")
	if got := p.ask("SYST:ERR?"); got != `7,"two words"` {
		t.Errorf("the queue holds %s", got)
	}
}

// brokenWriter fails at once.
type brokenWriter struct{}

func (brokenWriter) Write([]byte) (int, error) { return 0, errors.New("nobody listens") }

func TestControlReportsABrokenAnswerLine(t *testing.T) {
	b, err := New(fast(t))
	if err != nil {
		t.Fatal(err)
	}
	if err := b.Control(t.Context(), strings.NewReader("time\n"), brokenWriter{}); err == nil {
		t.Error("no error")
	}
	long := strings.Repeat("x", 100<<10)
	if err := b.Control(t.Context(), strings.NewReader(long), io.Discard); err == nil {
		t.Error("an endless line was read")
	}
}

func TestServe(t *testing.T) {
	in, stdin := io.Pipe()
	stdout, out := io.Pipe()
	ended := make(chan error, 1)
	go func() { ended <- Serve(context.Background(), fast(t), in, out) }()
	lines := bufio.NewScanner(stdout)
	if !lines.Scan() {
		t.Fatal("nothing came")
	}
	var first struct {
		Ports map[string]string `json:"ports"`
	}
	if err := json.Unmarshal(lines.Bytes(), &first); err != nil || len(first.Ports) != 4 {
		t.Fatalf("first line %q: %v", lines.Text(), err)
	}
	p := openAt(t, first.Ports["meter"])
	if got := p.ask("*IDN?"); !strings.HasPrefix(got, "Saltmarsh") {
		t.Errorf("*IDN? answered %s", got)
	}
	if _, err := io.WriteString(stdin, "fault meter silence 1\n"); err != nil {
		t.Fatal(err)
	}
	if !lines.Scan() || lines.Text() != "done" {
		t.Errorf("the control line got %q", lines.Text())
	}
	if err := stdin.Close(); err != nil {
		t.Fatal(err)
	}
	if err := <-ended; err != nil {
		t.Errorf("ended with %v", err)
	}
}

func TestServeEndsWithItsContext(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	in, stdin := io.Pipe()
	defer func() { _ = stdin.Close() }()
	stdout, out := io.Pipe()
	ended := make(chan error, 1)
	go func() { ended <- Serve(ctx, fast(t), in, out) }()
	if _, err := bufio.NewReader(stdout).ReadString('\n'); err != nil {
		t.Fatal(err)
	}
	cancel()
	if err := <-ended; err != nil {
		t.Errorf("ended with %v", err)
	}
}

// deaf is a standard input that nothing can interrupt until it is released.
type deaf chan struct{}

func (d deaf) Read([]byte) (int, error) { <-d; return 0, io.EOF }

func TestServeEndsThoughItsInputWaits(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	in := make(deaf)
	defer close(in)
	stdout, out := io.Pipe()
	ended := make(chan error, 1)
	go func() { ended <- Serve(ctx, fast(t), in, out) }()
	if _, err := bufio.NewReader(stdout).ReadString('\n'); err != nil {
		t.Fatal(err)
	}
	cancel()
	if err := <-ended; err != nil {
		t.Errorf("ended with %v", err)
	}
}

func TestServeReportsAStartThatFails(t *testing.T) {
	c := fast(t)
	if err := Serve(t.Context(), Config{}, strings.NewReader(""), io.Discard); err == nil {
		t.Error("an empty bench was served")
	}
	for i := range c.Instruments {
		c.Instruments[i].Port = t.TempDir() + "/missing/" + c.Instruments[i].Name
	}
	if !ptySupported {
		return
	}
	if err := Serve(t.Context(), c, strings.NewReader(""), io.Discard); err == nil || !strings.Contains(err.Error(), "naming the port") {
		t.Errorf("got %v", err)
	}
}

// FuzzControl: every line gets one answer line, and nothing gets stuck.
func FuzzControl(f *testing.F) {
	for _, s := range []string{
		"fault meter silence 3s", "fault meter overflow 2 nan", "fault B8-0147 load composite double",
		"fault B8-0147 power off", "fault B8-0147 clip 10 1s", `fault meter error 5 "a b"`, "clear meter", "ports", `x "`,
		"fault B8-0147 ring composite 5e6 0.1", "fault meter slow 2 on",
	} {
		f.Add(s)
	}
	c := DemoConfig(f.TempDir())
	f.Fuzz(func(t *testing.T, line string) {
		if strings.ContainsAny(line, "\n") || len(line) > 1000 {
			return
		}
		b, err := New(c)
		if err != nil {
			t.Fatal(err)
		}
		var out strings.Builder
		if err := b.Control(t.Context(), strings.NewReader(line+"\n"), &out); err != nil {
			t.Fatal(err)
		}
		if n := strings.Count(out.String(), "\n"); n != 1 && strings.TrimSpace(line) != "" {
			t.Errorf("%q got %d lines: %q", line, n, out.String())
		}
		v := make([]float64, 100)
		for _, u := range b.units {
			for name := range u.points {
				(&wire{unit: u, name: name, probe: 1}).fill(v, 0.5, 1e-6)
			}
		}
		for _, x := range v {
			if x != x {
				t.Errorf("%q makes a point show no number", line)
			}
		}
	})
}
