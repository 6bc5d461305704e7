package main

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"soakline/checks"
	"soakline/logger/page"
)

// key is what a person decides at a step.
type key string

// The keys. Each may be spelled out.
const (
	keyGoOn  key = "go on"
	keyAgain key = "again"
	keySkip  key = "skip"
	keyStop  key = "stop"
	keyYes   key = "yes"
	keyNo    key = "no"
)

// keyLetters are how the keys are typed; an empty line goes on.
var keyLetters = map[key]string{keyGoOn: "", keyAgain: "a", keySkip: "k", keyStop: "s", keyYes: "y", keyNo: "n"}

// readKey finds which of the keys a line means, and what follows it.
func readKey(line string, among []key) (key, string, bool) {
	word, rest, _ := strings.Cut(strings.TrimSpace(line), " ")
	for _, k := range among {
		if strings.EqualFold(word, keyLetters[k]) || strings.EqualFold(word, string(k)) || k == keyGoOn && strings.EqualFold(line, string(k)) {
			return k, strings.TrimSpace(rest), true
		}
	}
	return "", "", false
}

// keyHelp says what the keys are.
func keyHelp(among []key) string {
	var parts []string
	for _, k := range among {
		letter := keyLetters[k]
		if letter == "" {
			letter = "Enter"
		}
		parts = append(parts, letter+" "+string(k))
	}
	return "[" + strings.Join(parts, "   ") + "] "
}

// ask waits for one of the keys.
func (r *finalRun) ask(ctx context.Context, among ...key) (key, string, error) {
	for {
		line, err := r.person.answer(ctx, "  "+keyHelp(among))
		if err != nil {
			return "", "", err
		}
		if k, rest, ok := readKey(line, among); ok {
			return k, rest, nil
		}
		fmt.Fprintf(r.out, "  %q is no key here\n", line)
	}
}

// takeWithPerson takes the steps in order; after one that does not pass the person
// says how it goes on.
func (r *finalRun) takeWithPerson(ctx context.Context, view page.FinalView) (page.FinalView, error) {
	left := map[string]bool{} // what could not be read, and the person went on
	for {
		step, ok := nextStep(view, func(s page.FinalStepView) bool { return !left[s.Step] })
		if !ok {
			return view, nil
		}
		r.announce(view, step)
		after, err := r.atStep(ctx, step)
		if err != nil {
			return view, err
		}
		view, left[step.Step] = after, true
	}
}

// atStep takes one step until the person is content with its result.
func (r *finalRun) atStep(ctx context.Context, step page.FinalStepView) (page.FinalView, error) {
	ask, done := true, page.FinalView{}
	for {
		view, skipped, err := r.takeOnce(ctx, step, ask)
		if err != nil {
			return done, err
		}
		done = view
		found := stepNamed(view, step.Step)
		r.result(found)
		if skipped || found.Outcome == checks.Pass {
			return view, nil
		}
		k, reason, err := r.ask(ctx, keyGoOn, keyAgain, keySkip, keyStop)
		switch {
		case err != nil:
			return view, err
		case k == keyGoOn:
			return view, nil
		case k == keyStop:
			return view, errStopped
		case k == keySkip:
			view, _, err := r.skipStep(ctx, step, reason)
			if err == nil {
				r.result(stepNamed(view, step.Step))
			}
			return view, err
		}
		ask = step.Kind == checks.StepQuestion
	}
}

// takeOnce waits where a person has something to do first, and takes the step.
func (r *finalRun) takeOnce(ctx context.Context, step page.FinalStepView, ask bool) (view page.FinalView, skipped bool, err error) {
	request := page.StepRequest{}
	if ask && (step.Connect != "" || step.Caution != "" || step.NeedsPerson) {
		keys := []key{keyGoOn, keySkip, keyStop}
		if step.Kind == checks.StepQuestion {
			fmt.Fprint(r.out, r.fit(paragraph("  ", string(step.Sense)+": "+step.Question+" (a remark may follow the answer)")))
			keys = []key{keyYes, keyNo, keySkip, keyStop}
		}
		k, rest, err := r.ask(ctx, keys...)
		switch {
		case err != nil:
			return view, false, err
		case k == keyStop:
			return view, false, errStopped
		case k == keySkip:
			return r.skipStep(ctx, step, rest)
		case k == keyYes || k == keyNo:
			request = page.StepRequest{Answer: checks.Answer(k), Note: rest}
		}
	}
	view, k, err := r.whileTaken(ctx, step, request)
	if k == keySkip && errors.Is(err, errStopped) {
		return r.skipStep(ctx, step, "")
	}
	return view, false, err
}

// whileTaken takes the step and listens meanwhile: s stops it, k skips it.
func (r *finalRun) whileTaken(ctx context.Context, step page.FinalStepView, request page.StepRequest) (page.FinalView, key, error) {
	taking, stop := context.WithCancel(ctx)
	defer stop()
	type outcome struct {
		view page.FinalView
		err  error
	}
	done, told := make(chan outcome, 1), make(chan page.StepProgressView)
	go func() {
		view, err := r.taker.step(taking, r.unit, step.Step, request, func(p page.StepProgressView) {
			select {
			case told <- p:
			case <-taking.Done():
			}
		})
		done <- outcome{view, err}
	}()
	r.person.listen()
	var pressed key
	lines := r.person.lines
	for {
		select {
		case p := <-told:
			r.progress(p)
		case line, open := <-lines:
			if !open {
				lines = nil // the terminal was closed: the next question says so
				continue
			}
			if k, _, ok := readKey(line, []key{keySkip, keyStop}); ok && pressed == "" {
				pressed = k
				stop()
			}
		case got := <-done:
			r.progressDone()
			if pressed != "" && got.err != nil {
				return got.view, pressed, errStopped
			}
			return got.view, "", got.err
		}
	}
}

// skipStep leaves a step out, once there is a reason.
func (r *finalRun) skipStep(ctx context.Context, step page.FinalStepView, reason string) (page.FinalView, bool, error) {
	for reason == "" {
		var err error
		if reason, err = r.person.answer(ctx, "  why is "+step.Step+" skipped? "); err != nil {
			return page.FinalView{}, false, err
		}
	}
	view, err := r.taker.skip(ctx, r.unit, step.Step, reason)
	return view, true, err
}
