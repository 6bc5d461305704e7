package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"soakline/checks"
	"soakline/logger/book"
	"soakline/logger/page"
)

// killedBench is a simulated bench in one process and a daemon, to be killed and
// started again, in another.
type killedBench struct {
	file, book string
	away       checks.Gap
	daemon     *process
	// before goes before the daemon's command, where it is to run within bounds.
	before []string
}

// newKilledBench writes a bench's file beside simulated instruments.
func newKilledBench(t *testing.T) *killedBench {
	t.Helper()
	dir := t.TempDir()
	simulated := start(t, binary(t), "simulate", "--demo", dir)
	var ready struct {
		Ports map[string]string `json:"ports"`
	}
	if err := json.Unmarshal([]byte(simulated.line(t)), &ready); err != nil {
		t.Fatal(err)
	}
	copyDemo(t, dir, ready.Ports)
	k := &killedBench{file: filepath.Join(dir, "bench.yaml"), book: filepath.Join(dir, "demo.book")}
	return k
}

// copyDemo copies the demo's files, with the ports where they are.
func copyDemo(t *testing.T, dir string, ports map[string]string) {
	t.Helper()
	files, err := filepath.Glob(filepath.Join("..", "..", "config", "demo", "*.yaml"))
	if err != nil || len(files) == 0 {
		t.Fatalf("the demo's files: %v, %v", files, err)
	}
	for _, file := range files {
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		for name, port := range ports {
			text = bytes.ReplaceAll(text, []byte("demo:"+name), []byte(port))
		}
		if err := os.WriteFile(filepath.Join(dir, filepath.Base(file)), text, 0o600); err != nil {
			t.Fatal(err)
		}
	}
}

// serve starts the daemon and waits until it says that the bench is running.
func (k *killedBench) serve(t *testing.T) {
	t.Helper()
	command := append(slices.Clone(k.before), binary(t), "serve", "--bench", k.file, "--listen", "127.0.0.1:0")
	k.daemon = start(t, command[0], command[1:]...)
	waitFor(t, "the daemon", func() bool {
		output, err := k.run("soak", "status", "--json")
		return err == nil && len(output) > 0
	})
}

func (k *killedBench) kill(t *testing.T) {
	t.Helper()
	if err := k.daemon.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	_ = k.daemon.Wait() // it was killed, and says so
}

func (k *killedBench) run(args ...string) (string, error) {
	output, err := exec.Command(programPath(), append(args, "--bench", k.file)...).Output()
	if failed, ok := errors.AsType[*exec.ExitError](err); ok && len(failed.Stderr) > 0 {
		err = fmt.Errorf("%w: %s", err, failed.Stderr)
	}
	return string(output), err
}

// waitFor asks until something is true; the event that it waits for is in another
// process, which cannot tell it otherwise.
func waitFor(t *testing.T, what string, is func() bool) {
	t.Helper()
	deadline := time.After(30 * time.Second)
	for !is() {
		select {
		case <-deadline:
			t.Fatalf("waited in vain for %s", what)
		case <-time.After(20 * time.Millisecond):
		}
	}
}

// TestKilledDaemon kills the daemon at a random moment of a soak, twenty times.
// Each time the soak goes on with the next start, the readings that had been
// committed are there, none is there twice, and the gap is in the evidence.
func TestKilledDaemon(t *testing.T) {
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	chance := rand.New(rand.NewPCG(seed, 0))
	binary(t)
	k := newKilledBench(t)
	k.serve(t)
	if output, err := k.run("unit", "add", "B8-0147", "--console", "Brambling 8"); err != nil {
		t.Fatalf("%v: %s", err, output)
	}
	if output, err := k.run("soak", "begin", "--unit", "B8-0147@left", "--for", "2h"); err != nil {
		t.Fatalf("%v: %s", err, output)
	}
	var before int64
	for round := range 20 {
		moment := time.After(time.Duration(100+chance.IntN(1400)) * time.Millisecond)
		<-moment
		shown := k.readings(t)
		k.kill(t)
		after := k.checkBook(t)
		if after < before {
			t.Fatalf("round %d: %d readings in the book, and there were %d", round, after, before)
		}
		// What was shown 1 s before the kill must be there: the commit interval.
		if int64(shown) > after+perSecond {
			t.Fatalf("round %d: %d readings were shown, and the book has %d", round, shown, after)
		}
		before = after
		if round == longAway {
			killed := time.Now()
			<-time.After(4 * time.Second) // longer than a reading of the rail is fresh
			k.away = checks.Gap{From: killed, To: time.Now()}
		}
		k.serve(t)
	}
	waitFor(t, "readings after the last start", func() bool { return k.readings(t) > 0 })
	if output, err := k.run("soak", "end", "--unit", "B8-0147", "--reason", "end of the test"); err != nil {
		t.Fatalf("%v: %s", err, output)
	}
	waitFor(t, "the verdict", func() bool { _, err := k.run("soak", "show", "1"); return err == nil })
	k.checkVerdict(t)
}

// longAway is the round after which the daemon stays away for long.
const longAway = 10

// perSecond bounds how many readings the demo's left place gives in the commit
// interval of one second, with room for a machine that is busy.
const perSecond = 40

// readings is how many readings of the soak the daemon's own page shows as
// written since its start.
func (k *killedBench) readings(t *testing.T) uint64 {
	t.Helper()
	output, err := k.run("soak", "status", "--json")
	if err != nil {
		t.Fatalf("soak status: %v", err)
	}
	var view page.BenchView
	if err := json.Unmarshal([]byte(output), &view); err != nil {
		t.Fatal(err)
	}
	if len(view.Soaks) != 1 || view.Soaks[0].Unit != "B8-0147" {
		t.Fatalf("the soak is not under way: %s", output)
	}
	return view.Book.WrittenReadings
}

// checkBook opens the book after a kill: whole, the soak running, no reading twice.
func (k *killedBench) checkBook(t *testing.T) int64 {
	t.Helper()
	b, err := book.Open(t.Context(), k.book, book.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	running, err := b.RunningSoaks(t.Context(), "pier-end")
	if err != nil || len(running) != 1 {
		t.Fatalf("running soaks: %v, %v", running, err)
	}
	seen := map[string]bool{}
	for r, err := range b.SoakReadings(t.Context(), running[0].ID) {
		if err != nil {
			t.Fatal(err)
		}
		key := fmt.Sprint(r.Tag, r.At.UnixMicro())
		if seen[key] {
			t.Fatalf("twice in the book: %s", key)
		}
		seen[key] = true
	}
	return int64(len(seen))
}

// checkVerdict: a soak with twenty holes in it is undecided, and says why.
func (k *killedBench) checkVerdict(t *testing.T) {
	t.Helper()
	b, err := book.Open(t.Context(), k.book, book.Options{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	kept, err := b.Verdict(t.Context(), 1)
	if err != nil {
		t.Fatal(err)
	}
	if kept.Outcome != checks.Undecided {
		t.Errorf("outcome %s, want undecided: the soak was ended early", kept.Outcome)
	}
	for _, check := range kept.Checks {
		if check.Check.TestPoint != "rail-5v" {
			continue
		}
		inGap := func(gap checks.Gap) bool { return !gap.From.After(k.away.From) && !gap.To.Before(k.away.To) }
		if check.Readings == 0 || check.Evidence >= 1 || !slices.ContainsFunc(check.Gaps, inGap) {
			t.Errorf("%s: %d readings, evidence %g, gaps %v; the daemon was away from %v to %v",
				check.Check, check.Readings, check.Evidence, check.Gaps, k.away.From, k.away.To)
		}
	}
	runs, err := b.Runs(t.Context(), "pier-end")
	if err != nil || len(runs) != 21 {
		t.Errorf("%d runs of the daemon are on record, want 21 (%v)", len(runs), err)
	}
	cut := 0
	for _, run := range runs {
		if run.End.IsZero() {
			cut++
		}
	}
	if cut < 20 {
		t.Errorf("%d runs were cut off, want 20", cut)
	}
}
