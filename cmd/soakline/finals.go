package main

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"

	"github.com/spf13/cobra"

	"soakline/checks"
	"soakline/config"
	"soakline/logger"
	"soakline/logger/book"
	"soakline/logger/page"
)

// finalTaker takes final tests: the daemon that holds the bench, or the bench in this
// process.
type finalTaker interface {
	units(ctx context.Context) ([]page.UnitView, error)
	addUnit(ctx context.Context, unit page.UnitView) error
	consoles() []string
	begin(ctx context.Context, unit string, request page.FinalRequest) (page.FinalView, error)
	step(ctx context.Context, unit, step string, request page.StepRequest, show func(page.StepProgressView)) (page.FinalView, error)
	skip(ctx context.Context, unit, step, reason string) (page.FinalView, error)
	end(ctx context.Context, unit string) (page.FinalView, error)
	giveUp(ctx context.Context, unit, reason string) (page.FinalView, error)
}

// withFinals has work done by the daemon that holds the bench, or else by the bench
// run in this process for as long as the work takes.
func withFinals(cmd *cobra.Command, bench config.Bench, work func(context.Context, finalTaker) error) error {
	d, err := findDaemon(cmd.Context(), bench)
	if err != nil {
		return err
	}
	if d != nil {
		return work(cmd.Context(), finalsThere{d, bench})
	}
	log := newLog(cmd.ErrOrStderr(), false, false)
	if onTerminal(cmd.ErrOrStderr()) {
		log = slog.New(slog.DiscardHandler) // what could not be read is said; the events are in the book
	}
	return serve(cmd.Context(), bench, log, func(ctx context.Context, r *running) error { return work(ctx, finalsHere{r}) })
}

// consolesOf are the consoles that a bench has test sheets for.
func consolesOf(settings logger.Settings) []string {
	var all []string
	for _, sheet := range settings.Sheets {
		all = append(all, string(sheet.Console))
	}
	return all
}

// finalsThere are taken by a daemon.
type finalsThere struct {
	*daemon
	bench config.Bench
}

func (f finalsThere) consoles() []string { return consolesOf(f.bench.Settings) }

func (f finalsThere) units(ctx context.Context) (units []page.UnitView, err error) {
	return units, f.get(ctx, "/api/v1/units", &units)
}

func (f finalsThere) addUnit(ctx context.Context, unit page.UnitView) error {
	return f.post(ctx, "/api/v1/units", unit, nil)
}

func (f finalsThere) begin(ctx context.Context, unit string, request page.FinalRequest) (view page.FinalView, err error) {
	return view, f.post(ctx, unitPath(unit, "final"), request, &view)
}

func (f finalsThere) skip(ctx context.Context, unit, step, reason string) (view page.FinalView, err error) {
	return view, f.post(ctx, unitPath(unit, "final", "steps", step, "skip"), page.EndRequest{Reason: reason}, &view)
}

func (f finalsThere) end(ctx context.Context, unit string) (view page.FinalView, err error) {
	return view, f.post(ctx, unitPath(unit, "final", "end"), struct{}{}, &view)
}

func (f finalsThere) giveUp(ctx context.Context, unit, reason string) (view page.FinalView, err error) {
	return view, f.post(ctx, unitPath(unit, "final", "give-up"), page.EndRequest{Reason: reason}, &view)
}

// longestLine bounds a line of the daemon's: a final test with all its figures.
const longestLine = 4 << 20

// step has the daemon take a step and passes on how it goes; going away stops it.
func (f finalsThere) step(ctx context.Context, unit, step string, request page.StepRequest, show func(page.StepProgressView)) (page.FinalView, error) {
	body, err := json.Marshal(request)
	if err != nil {
		return page.FinalView{}, err
	}
	response, err := f.stream(ctx, unitPath(unit, "final", "steps", step), body)
	if err != nil {
		return page.FinalView{}, err
	}
	defer response.Body.Close()
	lines := bufio.NewScanner(response.Body)
	lines.Buffer(nil, longestLine)
	for lines.Scan() {
		var view page.StepProgressView
		if err := json.Unmarshal(lines.Bytes(), &view); err != nil {
			return page.FinalView{}, fmt.Errorf("the daemon's answer: %w", err)
		}
		switch {
		case view.Trouble != "":
			return page.FinalView{}, errors.New(view.Trouble)
		case view.Final != nil:
			return *view.Final, nil
		}
		show(view)
	}
	if ctx.Err() != nil {
		return page.FinalView{}, ctx.Err()
	}
	return page.FinalView{}, fmt.Errorf("the daemon has gone while it took step %s; the final test stands where it was: %w", step, errors.Join(lines.Err(), errGone))
}

// errGone says that an answer ended before its last line.
var errGone = errors.New("its answer broke off")

// finalsHere are taken by the bench in this process.
type finalsHere struct{ *running }

func (f finalsHere) consoles() []string { return consolesOf(f.Settings()) }

func (f finalsHere) units(ctx context.Context) ([]page.UnitView, error) {
	units, err := f.Book().Units(ctx)
	var views []page.UnitView
	for _, unit := range units {
		views = append(views, page.ViewUnit(unit))
	}
	return views, err
}

func (f finalsHere) addUnit(ctx context.Context, unit page.UnitView) error {
	return f.AddUnit(ctx, book.Unit{ID: checks.UnitID(unit.Unit), Console: checks.ConsoleName(unit.Console)})
}

func (f finalsHere) begin(ctx context.Context, unit string, request page.FinalRequest) (page.FinalView, error) {
	return viewedFinal(f.BeginFinal(ctx, logger.FinalRequest{Unit: checks.UnitID(unit), Place: request.Place, Anew: request.Anew}))
}

func (f finalsHere) step(ctx context.Context, unit, step string, request page.StepRequest, show func(page.StepProgressView)) (page.FinalView, error) {
	return viewedFinal(f.TakeStep(ctx, logger.StepRequest{Unit: checks.UnitID(unit), Step: checks.StepName(step), Answer: request.Answer, Note: request.Note},
		func(p logger.StepProgress) {
			show(page.StepProgressView{Step: step, Text: p.Text, LeftS: p.Left.Seconds()})
		}))
}

func (f finalsHere) skip(ctx context.Context, unit, step, reason string) (page.FinalView, error) {
	return viewedFinal(f.SkipStep(ctx, checks.UnitID(unit), checks.StepName(step), reason))
}

func (f finalsHere) end(ctx context.Context, unit string) (page.FinalView, error) {
	return viewedFinal(f.EndFinal(ctx, checks.UnitID(unit)))
}

func (f finalsHere) giveUp(ctx context.Context, unit, reason string) (page.FinalView, error) {
	return viewedFinal(f.GiveUpFinal(ctx, checks.UnitID(unit), reason))
}

func viewedFinal(status logger.FinalStatus, err error) (page.FinalView, error) {
	if err != nil {
		return page.FinalView{}, err
	}
	return page.ViewFinal(status), nil
}
