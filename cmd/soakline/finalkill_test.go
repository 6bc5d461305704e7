package main

import (
	"encoding/json"
	"fmt"
	"os"
	"strings"
	"testing"

	"soakline/checks"
	"soakline/logger/page"
)

// TestFinalGoesOnAfterAKill kills the program with -9 at every step; the next call
// goes on at that step, and no result is lost or taken twice.
func TestFinalGoesOnAfterAKill(t *testing.T) {
	t.Parallel()
	steps := ""
	names := []string{"one", "two"}
	for _, name := range names {
		steps += fmt.Sprintf("    - {name: %s, measure: rail-5v, repeats: 2, settling: {measure: dc-voltage, spread_v: 0.01, for: 1s, within: 20s}}\n", name)
	}
	b := newFinalBench(t, finalOptions{steps: steps})
	for i, name := range names {
		p := start(t, binary(t), "final", "--unit", "B8-0147", "--hands-free", "--bench", b.file)
		for !strings.HasPrefix(p.line(t), fmt.Sprintf("step %d of %d   %s", i+1, len(names), name)) {
		}
		if err := p.Process.Kill(); err != nil {
			t.Fatal(err)
		}
		_ = p.Wait() // it was killed
		view := b.shownFinal(t)
		if len(view.Due) != len(names)-i || view.Due[0] != name {
			t.Errorf("killed at %s: due are %v", name, view.Due)
		}
		if i+1 < len(names) { // take this one, and be killed at the next
			p = start(t, binary(t), "final", "--unit", "B8-0147", "--hands-free", "--bench", b.file)
			for !strings.HasPrefix(p.line(t), fmt.Sprintf("step %d of %d", i+2, len(names))) {
			}
			if err := p.Process.Kill(); err != nil {
				t.Fatal(err)
			}
			_ = p.Wait() // it was killed
		}
	}
	out, _ := b.soakline(t, exitDone, "final", "--unit", "B8-0147", "--hands-free", "--json")
	var view page.FinalView
	if err := json.Unmarshal([]byte(out), &view); err != nil {
		t.Fatal(err)
	}
	for _, step := range view.Steps {
		if step.Taken != 1 || step.Outcome != "pass" || step.Figures[0].Repeats != 2 {
			t.Errorf("%s was taken %d times, %s", step.Step, step.Taken, step.Outcome)
		}
	}
	b.soakline(t, exitDone, "book", "check")
	b.soakline(t, exitDone, "judge", "--final", "1")
}

// killedStep is a step of a final test, and what a terminal shows while it waits for a
// person and while it is taken; empty where that is over at once.
type killedStep struct {
	name, prompt, answer, during string
	// before changes the bench so that the step can pass.
	before []string
}

const everyKindOfStep = `    - {name: soaked, soak: {}, connect: as it soaked}
    - {name: rail, measure: rail-5v, settling: {measure: dc-voltage, spread_v: 0.01, for: 2s, within: 20s}}
    - {name: sound, question: "Is there sound?", sense: listen}
    - {name: rest, wait: 2s}
    - {name: empty, discharge: reservoir}
`

var killedSteps = []killedStep{
	{name: "soaked", prompt: "[Enter go on", answer: ""},
	{name: "rail", prompt: "[Enter go on", answer: "", during: "settling:"},
	{name: "sound", prompt: "[y yes", answer: "y a little quiet"},
	{name: "rest", during: "waiting:"},
	{name: "empty", prompt: "[Enter go on", answer: "", during: " V", before: []string{"B8-0147 power off", "B8-0147 clip 100 30s"}},
}

// TestFinalGoesOnAtEveryKindOfStep kills with -9, at a step of every kind, while a
// person is waited for and again while the step is taken: the program itself, and a
// daemon that takes the test for it. The next call goes on at that step; a step that
// was cut short begins anew, and what was found before stays, once.
func TestFinalGoesOnAtEveryKindOfStep(t *testing.T) {
	for _, by := range []string{"the program", "the daemon"} {
		t.Run(by, func(t *testing.T) {
			t.Parallel()
			b := newFinalBench(t, finalOptions{steps: everyKindOfStep})
			b.soakline(t, exitDone, "soak", "begin", "--unit", "B8-0147")
			k := &killedFinal{bench: b, viaDaemon: by == "the daemon"}
			for i := range killedSteps {
				k.atStep(t, i)
			}
			k.terminal.until(t, "PASS")
			k.terminal.end(t, exitDone)
			k.stop(t)
			k.taken(t)
		})
	}
}

// killedFinal is a final test at a terminal, and what is to be killed of it.
type killedFinal struct {
	bench     roundBench
	viaDaemon bool
	daemon    *process
	terminal  *terminal
}

// atStep comes to a step, is killed before it and in it, and takes it.
func (k *killedFinal) atStep(t *testing.T, i int) {
	t.Helper()
	step := killedSteps[i]
	if i == 0 {
		k.open(t)
	}
	k.comesTo(t, i)
	k.terminal.until(t, step.prompt)
	k.kill(t)
	k.standsAt(t, i)
	if step.during != "" {
		k.open(t)
		k.goOn(t, i)
		k.terminal.until(t, step.during)
		k.kill(t)
		k.standsAt(t, i)
	}
	for _, fault := range step.before {
		k.bench.fault(t, fault)
	}
	k.open(t)
	k.goOn(t, i)
}

// comesTo waits until a step is announced.
func (k *killedFinal) comesTo(t *testing.T, i int) {
	t.Helper()
	k.terminal.until(t, fmt.Sprintf("step %d of %d   %s", i+1, len(killedSteps), killedSteps[i].name))
}

// goOn answers at a step what has it taken.
func (k *killedFinal) goOn(t *testing.T, i int) {
	t.Helper()
	k.comesTo(t, i)
	if killedSteps[i].prompt != "" {
		k.terminal.until(t, killedSteps[i].prompt)
		k.terminal.press(t, killedSteps[i].answer)
	}
}

// open begins the test, or goes on with it.
func (k *killedFinal) open(t *testing.T) {
	t.Helper()
	if k.viaDaemon && k.daemon == nil {
		k.daemon = start(t, binary(t), "serve", "--bench", k.bench.file)
		waitForDaemon(t, k.bench)
	}
	k.terminal = k.bench.onTerminal(t, "final", "--unit", "B8-0147")
}

// kill kills what takes the test.
func (k *killedFinal) kill(t *testing.T) {
	t.Helper()
	if k.viaDaemon {
		if err := k.daemon.Process.Kill(); err != nil {
			t.Fatal(err)
		}
		_ = k.daemon.Wait() // it was killed
		k.daemon = nil
	}
	if err := k.terminal.cmd.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	_ = k.terminal.cmd.Wait() // it was killed
}

// stop ends the daemon, if there is one.
func (k *killedFinal) stop(t *testing.T) {
	t.Helper()
	if k.daemon == nil {
		return
	}
	if err := k.daemon.Process.Signal(os.Interrupt); err != nil {
		t.Fatal(err)
	}
	if err := k.daemon.Wait(); err != nil {
		t.Error(err, k.daemon.log)
	}
}

// standsAt demands that the steps before have their result, once, and no other has.
func (k *killedFinal) standsAt(t *testing.T, i int) {
	t.Helper()
	view := k.bench.shownFinal(t)
	for at, step := range view.Steps {
		want := 0
		if at < i {
			want = 1
		}
		if step.Taken != want {
			t.Errorf("killed at %s: %s was taken %d times, want %d", killedSteps[i].name, step.Step, step.Taken, want)
		}
	}
	if len(view.Due) != len(killedSteps)-i || view.Due[0] != killedSteps[i].name {
		t.Errorf("killed at %s: due are %v", killedSteps[i].name, view.Due)
	}
}

// taken demands a pass of all steps, each taken once, and the same again from the book.
func (k *killedFinal) taken(t *testing.T) {
	t.Helper()
	for _, step := range k.bench.shownFinal(t).Steps {
		if step.Taken != 1 || step.Outcome != checks.Pass {
			t.Errorf("%s was taken %d times, %s: %v", step.Step, step.Taken, step.Outcome, step.Reasons)
		}
	}
	k.bench.soakline(t, exitDone, "book", "check")
	out, _ := k.bench.soakline(t, exitDone, "judge", "--final", "1")
	matches(t, out, "to the last bit")
}

// shownFinal is the first final test as the book has it.
func (b roundBench) shownFinal(t *testing.T) (view page.FinalView) {
	t.Helper()
	out, _ := b.soakline(t, exitDone, "final", "show", "1", "--json")
	if err := json.Unmarshal([]byte(out), &view); err != nil {
		t.Fatal(err)
	}
	return view
}
