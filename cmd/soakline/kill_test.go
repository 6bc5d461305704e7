package main

import (
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
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
	// program is what serves, if not the built program.
	program string
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
	command := append(slices.Clone(k.before), cmp.Or(k.program, binary(t)), "serve", "--bench", k.file, "--listen", "127.0.0.1:0")
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

// TestKilledDaemon kills the daemon of a full bench at a random moment of a soak, KILLS
// times. Each time the book opens, nothing is wrong with it, the soak goes on with the
// next start, the readings that had been committed are there, no more than a commit
// interval is missing, none is there twice, and the gap is in the evidence.
func TestKilledDaemon(t *testing.T) {
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	chance := rand.New(rand.NewPCG(seed, 0))
	kills := howMany(t, "KILLS", 12)
	k := newFullBench(t, t.TempDir(), "")
	k.freshFor(t, "250ms")
	k.serve(t)
	k.beginSoak(t)
	var before, most float64
	gaps := 0 // at least: two kills without a reading between them leave one
	var away time.Duration
	for round := range kills {
		rest(time.Duration(100+chance.IntN(2400)) * time.Millisecond)
		shown, written := k.taken(t)
		k.kill(t)
		killed := time.Now()
		after := float64(k.checkBook(t))
		// Of what /metrics had shown, what was not committed may be missing.
		missing := before + shown - after
		most = max(most, missing)
		if after < before+written || missing > 2*fullPerSecond {
			t.Fatalf("round %d: %g readings were shown and %g written since the start; the book had %g and has %g", round, shown, written, before, after)
		}
		if after > before+4*fullPoints {
			gaps++
		}
		before = after
		if round == kills/2 {
			rest(4 * time.Second)
			k.away = checks.Gap{From: killed, To: time.Now()}
		}
		k.serve(t)
		away += time.Since(killed)
	}
	t.Logf("%d kills, %d of them with readings since the one before, %g readings in the book; at most %g of %d readings/s were missing after one", kills, gaps, before, most, fullPerSecond)
	waitFor(t, "readings after the last start", func() bool { return k.readings(t) > 0 })
	if output, err := k.run("soak", "end", "--unit", "B8-0147", "--reason", "end of the test"); err != nil {
		t.Fatalf("%v: %s", err, output)
	}
	waitFor(t, "the verdict", func() bool { _, err := k.run("soak", "show", "1"); return err == nil })
	k.checkVerdict(t, kills, gaps, away)
}

// howMany is how often something is done: what an environment variable says, or else.
func howMany(t *testing.T, variable string, otherwise int) int {
	t.Helper()
	text := os.Getenv(variable)
	if text == "" {
		return otherwise
	}
	n, err := strconv.Atoi(text)
	if err != nil {
		t.Fatalf("%s: %v", variable, err)
	}
	return n
}

// freshFor has the readings of a full bench judged at once and be fresh for less long, so that a short
// time without the daemon is a gap.
func (k *killedBench) freshFor(t *testing.T, long string) {
	t.Helper()
	path := filepath.Join(filepath.Dir(k.file), "full.yaml")
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	text = bytes.ReplaceAll(text, []byte("every: 100ms,"), []byte("every: 100ms, settle: 0s, fresh_for: "+long+","))
	if err := os.WriteFile(path, text, 0o600); err != nil {
		t.Fatal(err)
	}
}

// taken is how many readings the daemon has shown in /metrics since its start, and how
// many of them it had written into the book a moment before.
func (k *killedBench) taken(t *testing.T) (shown, written float64) {
	written = float64(k.view(t).Book.WrittenReadings)
	return k.metric(t, "soakline_readings_total"), written
}

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
	if problems, err := b.Check(t.Context(), nil); err != nil || len(problems) > 0 {
		t.Fatalf("the check of the book: %v, %v", problems, err)
	}
	running, err := b.RunningSoaks(t.Context(), "pier-end")
	if err != nil || len(running) != 1 {
		t.Fatalf("running soaks: %v, %v", running, err)
	}
	latest, n := map[checks.TestPointName]int64{}, int64(0)
	for r, err := range b.SoakReadings(t.Context(), running[0].ID) {
		if err != nil {
			t.Fatal(err)
		}
		at := r.At.UnixMicro()
		if last, there := latest[r.Tag.TestPoint]; there && at <= last {
			t.Fatalf("%s: a reading at %d us after one at %d us", r.Tag.TestPoint, at, last)
		}
		latest[r.Tag.TestPoint] = at
		n++
	}
	return n
}

// checkVerdict: a soak with holes in it is undecided, and says why.
func (k *killedBench) checkVerdict(t *testing.T, kills, gaps int, away time.Duration) {
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
		inGap := func(gap checks.Gap) bool { return !gap.From.After(k.away.From) && !gap.To.Before(k.away.To) }
		listed := len(check.Gaps) < check.GapCount || slices.ContainsFunc(check.Gaps, inGap) // only the longest are
		if check.Readings == 0 || check.Evidence >= 1 || check.GapCount < gaps || check.GapTotal < away || !listed {
			t.Errorf("%s: %d readings, evidence %g, %d gaps of %v in all, the longest %v; want %d or more of %v, and one from %v to %v",
				check.Check, check.Readings, check.Evidence, check.GapCount, check.GapTotal, check.Gaps, gaps, away, k.away.From, k.away.To)
		}
	}
	runs, err := b.Runs(t.Context(), "pier-end")
	if err != nil || len(runs) != kills+1 {
		t.Errorf("%d runs of the daemon are on record, want %d (%v)", len(runs), kills+1, err)
	}
	cut := 0
	for _, run := range runs {
		if run.End.IsZero() {
			cut++
		}
	}
	if cut < kills {
		t.Errorf("%d runs were cut off, want %d", cut, kills)
	}
}
