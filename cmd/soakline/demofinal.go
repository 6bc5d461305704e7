package main

import (
	"context"
	"fmt"
	"io"
	"slices"
	"time"

	"soakline/checks"
	"soakline/config"
	"soakline/logger/page"
)

// demoWatch is how long the demo watches a capacitor after its discharge, demoSettling
// how long a step of its final test waits at most for readings to settle.
const (
	demoWatch    = 5 * time.Second
	demoSettling = 10 * time.Second
)

// shortenSoaks has the demo's sheets ask for a soak as long as the demo's, so that
// its final tests can rely on it, and for short waits.
func shortenSoaks(bench *config.Bench, length time.Duration) error {
	if length <= 0 {
		return nil
	}
	for i, loaded := range bench.Loaded {
		short, err := loaded.Changed(func(sheet *checks.Sheet) { shorten(sheet, length) })
		if err != nil {
			return fmt.Errorf("the demo's test sheet %s: %w", loaded.Name, err)
		}
		bench.Loaded[i], bench.Sheets[i] = short, short.Sheet
	}
	return nil
}

func shorten(sheet *checks.Sheet, length time.Duration) {
	sheet.Soak.Duration = length
	sheet.TestPoints, sheet.Final.Steps = slices.Clone(sheet.TestPoints), slices.Clone(sheet.Final.Steps)
	for i, point := range sheet.TestPoints {
		if point.Discharge != nil {
			plan := *point.Discharge
			plan.WatchFor = min(plan.WatchFor, demoWatch)
			sheet.TestPoints[i].Discharge = &plan
		}
	}
	for i := range sheet.Final.Steps {
		within := &sheet.Final.Steps[i].Settling.Within
		*within = min(*within, demoSettling)
	}
}

// demoFinals takes every unit of the demo through its final test. Nobody looks or
// listens here: the demo gives the answers itself, and says so.
func demoFinals(ctx context.Context, out io.Writer, r *running, sim *simulated) (map[string]page.FinalView, error) {
	fmt.Fprint(out, "\nfinal tests, hands-free; the demo answers for the person who would look, listen and press,\n"+
		"switches the units off and puts the discharge resistor on\n")
	finals := map[string]page.FinalView{}
	for _, d := range demoUnits {
		view, err := demoFinal(ctx, out, finalsHere{r}, sim, d)
		if err != nil {
			return nil, err
		}
		finals[d.unit] = view
	}
	screen := finalScreen{out: out}
	for _, d := range demoUnits {
		screen.verdict(finals[d.unit])
	}
	return finals, nil
}

// demoFinal takes one unit through its final test; a line says how each step went.
func demoFinal(ctx context.Context, out io.Writer, taker finalTaker, sim *simulated, d demoUnit) (page.FinalView, error) {
	view, err := taker.begin(ctx, d.unit, page.FinalRequest{Place: d.place})
	if err != nil {
		return view, err
	}
	screen := finalScreen{out: out}
	tried := map[string]bool{}
	for {
		step, ok := nextStep(view, func(s page.FinalStepView) bool { return !tried[s.Step] })
		if !ok {
			return taker.end(ctx, d.unit)
		}
		tried[step.Step] = true
		request := page.StepRequest{}
		if step.Kind == checks.StepQuestion {
			request = page.StepRequest{Answer: checks.Yes, Note: "given by the demo"}
		}
		if step.Kind == checks.StepDischarge {
			if err := sim.empty(d.unit); err != nil {
				return view, err
			}
		}
		view, err = taker.step(ctx, d.unit, step.Step, request, screen.progress)
		screen.progressDone()
		if err != nil {
			return view, err
		}
		fmt.Fprintf(out, "  %-9s  %-18s %s\n", d.unit, step.Step, stepNamed(view, step.Step).Outcome)
	}
}
