package main

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"soakline/checks"
	"soakline/logger/page"
)

func finalCommand() *cobra.Command {
	var flags benchFlags
	var r finalRun
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "final [--unit ASSET-NUMBER]",
		Short: "Take a unit through its final test, step by step, to its verdict",
		Long: `Take a unit through the final test of its test sheet, step by step. What to connect
and what to beware of is shown before each step. At a terminal, Enter goes on, a
takes the step again, k skips it for a reason that you give, and s stops: the test
then stands where it is, as it does after a power cut, and the same command goes on
with it. Without --unit the asset number can be typed or scanned; a new unit is
booked in on the way.

With --hands-free all that needs nobody is taken, for units that are wired so that
nobody reaches in; what needs a person is left to be done at a terminal.
Exit code 0 pass, 1 fail, 3 undecided or not ended, 4 if something could not be read.`,
		Example: "  soakline final --unit B8-0147",
		Args:    noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			bench, err := flags.loadAt(cmd, r.request.Place)
			if err != nil {
				return err
			}
			out := cmd.OutOrStdout()
			if asJSON {
				out = cmd.ErrOrStderr()
			}
			r.person, r.out = newPerson(cmd.InOrStdin(), out), out
			if r.handsFree {
				r.person.there = false
			} else if !r.person.there {
				return wrongUsage(fmt.Errorf("%w: a final test has steps for one; with all wired and nobody reaching in, say --hands-free", errNobody))
			}
			return withFinals(cmd, bench, func(ctx context.Context, taker finalTaker) error {
				r.taker = taker
				view, err := r.run(ctx)
				if view.Final != 0 && asJSON {
					err = errors.Join(err, printJSON(cmd.OutOrStdout(), view))
				}
				return err
			})
		},
	}
	flags.addTo(cmd)
	cmd.Flags().StringVar(&r.unit, "unit", "", "asset number (default: typed or scanned at the terminal)")
	cmd.Flags().StringVar(&r.request.Place, "place", "", "place on the bench (default: where it soaks, or the first free one)")
	cmd.Flags().BoolVar(&r.handsFree, "hands-free", false, "all is wired and nobody reaches in: take what needs nobody")
	cmd.Flags().StringVar(&r.request.Anew, "anew", "", "give up the final test that is under way, for this reason, and begin another")
	addJSONFlag(cmd, &asJSON)
	cmd.AddCommand(finalListCommand(), finalShowCommand(), finalGiveUpCommand())
	return cmd
}

// finalRun is a final test as one person, or nobody, takes it.
type finalRun struct {
	finalScreen
	unit      string
	request   page.FinalRequest
	handsFree bool
	person    *person
	taker     finalTaker
}

// errStopped says that the person stopped.
var errStopped = errors.New("stopped")

// run takes every step that can be taken and ends the test if none is left.
func (r *finalRun) run(ctx context.Context) (page.FinalView, error) {
	unit, err := askUnit(ctx, r.person, r.unit, r.taker)
	if err != nil {
		return page.FinalView{}, err
	}
	r.unit = unit
	view, err := r.taker.begin(ctx, unit, r.request)
	if err != nil {
		return page.FinalView{}, err
	}
	r.begun(view)
	if r.handsFree {
		view, err = r.takeAlone(ctx, view)
	} else {
		view, err = r.takeWithPerson(ctx, view)
	}
	switch {
	case errors.Is(err, errStopped) || err != nil && ctx.Err() != nil:
		r.stopped(view)
		return view, &exitError{code: exitUndecided}
	case err != nil:
		return view, err
	case len(view.Due) > 0:
		return view, r.leftOver(view)
	}
	if view, err = r.taker.end(ctx, unit); err != nil {
		return view, err
	}
	r.verdict(view)
	return view, outcomeExit(view.Outcome)
}

// takeAlone takes the steps that need nobody, each once.
func (r *finalRun) takeAlone(ctx context.Context, view page.FinalView) (page.FinalView, error) {
	tried := map[string]bool{}
	for {
		step, ok := nextStep(view, func(s page.FinalStepView) bool { return !s.NeedsPerson && !tried[s.Step] })
		if !ok {
			return view, nil
		}
		tried[step.Step] = true
		r.announce(view, step)
		after, err := r.taker.step(ctx, r.unit, step.Step, page.StepRequest{}, r.progress)
		r.progressDone()
		if err != nil {
			return view, err
		}
		view = after
		r.result(stepNamed(view, step.Step))
	}
}

// nextStep returns the first step that can be taken and is wanted.
func nextStep(view page.FinalView, wanted func(page.FinalStepView) bool) (page.FinalStepView, bool) {
	for _, name := range view.Due {
		if step := stepNamed(view, name); wanted(step) {
			return step, true
		}
	}
	return page.FinalStepView{}, false
}

func stepNamed(view page.FinalView, name string) page.FinalStepView {
	for _, step := range view.Steps {
		if step.Step == name {
			return step
		}
	}
	return page.FinalStepView{}
}

// leftOver is the error of a test that could not be ended: what could not be read, or
// what needs a person.
func (r *finalRun) leftOver(view page.FinalView) error {
	var unread, person []string
	for _, name := range view.Due {
		if step := stepNamed(view, name); step.Act == checks.Unread {
			unread = append(unread, name)
		} else if step.NeedsPerson {
			person = append(person, name)
		}
	}
	goOn := "soakline final --unit " + view.Unit + " goes on there"
	if len(unread) > 0 {
		return &exitError{code: exitTrouble, err: fmt.Errorf("final test %d of %s: %s could not be read; %s", view.Final, view.Unit, strings.Join(unread, ", "), goOn)}
	}
	return &exitError{code: exitUndecided, err: fmt.Errorf("final test %d of %s: a person is needed for %s; %s", view.Final, view.Unit, strings.Join(person, ", "), goOn)}
}
