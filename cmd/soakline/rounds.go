package main

import (
	"context"
	"fmt"
	"log/slog"
	"net/http"
	"net/url"
	"time"

	"github.com/spf13/cobra"

	"soakline/checks"
	"soakline/config"
	"soakline/logger"
	"soakline/logger/book"
	"soakline/logger/page"
)

// roundTaker takes rounds and trials: the daemon that holds the bench, or the bench
// in this process.
type roundTaker interface {
	planRound(ctx context.Context, unit, place string) (page.RoundPlanView, error)
	beginRound(ctx context.Context, unit string, request page.RoundRequest) error
	readPoint(ctx context.Context, unit, label, place, point string) (page.PointView, error)
	endRound(ctx context.Context, unit, label string) (page.RoundView, error)
	beginTrial(ctx context.Context, unit string, request page.TrialRequest) (page.TrialView, error)
	endTrial(ctx context.Context, unit string, trial int64, chosen *float64) (page.TrialView, error)
}

// withRounds has work done by the daemon that holds the bench, or else by the bench
// run in this process for as long as the work takes.
func withRounds(cmd *cobra.Command, bench config.Bench, work func(context.Context, roundTaker) error) error {
	d, err := findDaemon(cmd.Context(), bench)
	if err != nil {
		return err
	}
	if d != nil {
		return work(cmd.Context(), &roundsThere{daemon: d})
	}
	log := newLog(cmd.ErrOrStderr(), false, false)
	if onTerminal(cmd.OutOrStdout()) {
		log = slog.New(slog.DiscardHandler) // what could not be read is said; the events are in the book
	}
	return serve(cmd.Context(), bench, log, func(ctx context.Context, r *running) error { return work(ctx, roundsHere{r}) })
}

// roundsThere are taken by a daemon.
type roundsThere struct{ daemon *daemon }

// pointPatience is how long a command waits for the daemon to read a test point:
// every figure until it has settled, or slow records over a slow line.
const pointPatience = 5 * time.Minute

func unitPath(unit string, rest ...string) string {
	path := "/api/v1/units/" + url.PathEscape(unit)
	for _, part := range rest {
		path += "/" + url.PathEscape(part)
	}
	return path
}

func (r *roundsThere) planRound(ctx context.Context, unit, place string) (plan page.RoundPlanView, err error) {
	return plan, r.daemon.get(ctx, unitPath(unit, "round-plan")+"?"+url.Values{"place": {place}}.Encode(), &plan)
}

func (r *roundsThere) beginRound(ctx context.Context, unit string, request page.RoundRequest) error {
	return r.daemon.post(ctx, unitPath(unit, "rounds"), request, nil)
}

func (r *roundsThere) readPoint(ctx context.Context, unit, label, place, point string) (view page.PointView, err error) {
	patient := *r.daemon
	patient.client = &http.Client{Timeout: pointPatience}
	return view, patient.post(ctx, unitPath(unit, "rounds", label, "points", point), page.PointRequest{Place: place}, &view)
}

func (r *roundsThere) endRound(ctx context.Context, unit, label string) (view page.RoundView, err error) {
	return view, r.daemon.post(ctx, unitPath(unit, "rounds", label, "end"), struct{}{}, &view)
}

func (r *roundsThere) beginTrial(ctx context.Context, unit string, request page.TrialRequest) (view page.TrialView, err error) {
	return view, r.daemon.post(ctx, unitPath(unit, "trials"), request, &view)
}

func (r *roundsThere) endTrial(ctx context.Context, unit string, trial int64, chosen *float64) (view page.TrialView, err error) {
	return view, r.daemon.post(ctx, unitPath(unit, "trials", fmt.Sprint(trial), "end"), page.TrialEndRequest{Chosen: chosen}, &view)
}

// roundsHere are taken by the bench in this process.
type roundsHere struct{ *running }

func (r roundsHere) planRound(ctx context.Context, unit, place string) (page.RoundPlanView, error) {
	plan, err := r.PlanRound(ctx, checks.UnitID(unit), place)
	return page.ViewRoundPlan(plan), err
}

func (r roundsHere) beginRound(ctx context.Context, unit string, request page.RoundRequest) error {
	plan, err := r.PlanRound(ctx, checks.UnitID(unit), request.Place)
	if err == nil {
		_, err = r.BeginRound(ctx, plan, request.ToRound(plan.Unit.ID))
	}
	return err
}

func (r roundsHere) readPoint(ctx context.Context, unit, label, place, point string) (page.PointView, error) {
	report, err := r.ReadPoint(ctx, checks.UnitID(unit), label, place, checks.TestPointName(point))
	return page.ViewPoint(report), err
}

func (r roundsHere) endRound(ctx context.Context, unit, label string) (page.RoundView, error) {
	if err := r.EndRound(ctx, checks.UnitID(unit), label); err != nil {
		return page.RoundView{}, err
	}
	round, err := r.Book().Round(ctx, checks.UnitID(unit), label)
	if err != nil {
		return page.RoundView{}, err
	}
	sheet, err := r.SheetOf(round.Sheet)
	return page.ViewRound(sheet, round), err
}

func (r roundsHere) beginTrial(ctx context.Context, unit string, request page.TrialRequest) (page.TrialView, error) {
	trial, err := r.BeginTrial(ctx, logger.TrialRequest{Unit: checks.UnitID(unit), Part: request.Part, CandidateUnit: request.CandidateUnit})
	return page.ViewTrial(logger.TrialResult{Trial: trial}), err
}

func (r roundsHere) endTrial(ctx context.Context, unit string, trial int64, chosen *float64) (page.TrialView, error) {
	if err := r.EndTrial(ctx, book.TrialID(trial), page.TrialEndRequest{Chosen: chosen}.Value()); err != nil {
		return page.TrialView{}, err
	}
	result, err := logger.TrialFromBook(ctx, r.Book(), checks.UnitID(unit), book.TrialID(trial), config.ParseSheet)
	return page.ViewTrial(result), err
}
