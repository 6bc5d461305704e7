package logger

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"soakline/checks"
	"soakline/checks/reservoir"
	"soakline/device"
	"soakline/logger/book"
)

// roundStep is where the step is read: the test point, less the checks that the step
// does not take, and the instrument that it is wired to.
func (w *stepWork) roundStep(ctx context.Context) (RoundStep, error) {
	plan, err := w.bench.PlanRound(ctx, w.final.Unit, w.final.Place)
	if err != nil {
		return RoundStep{}, err
	}
	at := slices.IndexFunc(plan.Steps, func(s RoundStep) bool { return s.Point.Name == w.step.TestPoint })
	if at < 0 {
		return RoundStep{}, fmt.Errorf("step %s: %w: test point %s is not wired at place %s", w.step.Name, book.ErrNotFound, w.step.TestPoint, w.final.Place)
	}
	step := plan.Steps[at]
	step.Point.Checks = w.sheet.FinalChecks(w.step)
	return step, nil
}

// measure waits until the readings have settled and takes the figures, as often as
// the step says.
func (w *stepWork) measure(ctx context.Context) error {
	step, err := w.roundStep(ctx)
	if err != nil {
		return err
	}
	if w.step.Settling.Asked() {
		if err := w.settle(ctx, step); err != nil || w.result.Act == checks.Unread {
			return err
		}
	}
	for repeat := 1; repeat <= max(1, w.step.Repeats); repeat++ {
		w.tell(0, "reading %s%s", step.Point.Name, ofSeveral(repeat, w.step.Repeats))
		point := &pointWork{bench: w.bench, round: w.final.Round, sheet: w.sheet, report: PointReport{Step: step}}
		if err := point.read(ctx); err != nil {
			return err
		}
		if err := w.bench.options.Book.AddRoundReadings(ctx, w.final.Round, point.report.Readings...); err != nil {
			return err
		}
		w.enter(repeat, point.report)
		if w.result.Act == checks.Unread {
			return nil
		}
	}
	return nil
}

func ofSeveral(n, of int) string {
	if of <= 1 {
		return ""
	}
	return fmt.Sprintf(" (%d of %d)", n, of)
}

// enter takes over what one repeat found.
func (w *stepWork) enter(repeat int, report PointReport) {
	for _, r := range report.Readings {
		w.result.Readings = append(w.result.Readings, checks.StepReading{Repeat: repeat, TestPoint: r.TestPoint, Measure: r.Measure,
			Instrument: r.Instrument, At: r.At, Value: r.Value, U: r.StandardUncertainty, Averaged: r.Averaged})
	}
	for _, f := range report.Findings {
		if !slices.ContainsFunc(w.result.Findings, func(known checks.Finding) bool { return known.Code == f.Code }) {
			w.result.Findings = append(w.result.Findings, f)
		}
	}
	for _, remark := range report.Remarks {
		if !slices.Contains(w.result.Remarks, remark) {
			w.result.Remarks = append(w.result.Remarks, remark)
		}
	}
	if report.Trouble != nil {
		w.unread(report.Trouble)
	}
}

// unread notes that an instrument could not be read.
func (w *stepWork) unread(err error) {
	w.result.Act, w.result.Trouble = checks.Unread, strings.ReplaceAll(err.Error(), "\n", "; ")
}

// settle reads the measure until its readings have stayed within the spread for as
// long as the step asks, or the wait is over.
func (w *stepWork) settle(ctx context.Context, step RoundStep) error {
	s := w.step.Settling
	limited, cancel := context.WithTimeout(ctx, s.Within)
	defer cancel()
	point := &pointWork{bench: w.bench, round: w.final.Round, sheet: w.sheet, report: PointReport{Step: step}}
	next, stop, err := point.sampling(limited, s.Measure)
	if err != nil {
		return err
	}
	begin := time.Now()
	window := settleWindow{spread: s.Spread, lasting: s.For}
	for !window.settled() {
		r, err := next(limited)
		if err != nil {
			if limited.Err() == nil {
				w.unread(err)
			}
			break
		}
		window.add(r.At, r.Value)
		w.tell(s.Within-time.Since(begin), "settling: %s, moved by %s in %s", checks.Figure(r.Value, 0, s.Measure.Unit()),
			checks.Figure(window.moved(), 0, s.Measure.Unit()), checks.Duration(window.length().Truncate(100*time.Millisecond)))
	}
	w.result.Settled = checks.SettledReport{Settled: window.settled(), Spread: window.moved(), Took: time.Since(begin).Truncate(time.Millisecond)}
	if err := stop(); err != nil && !errors.Is(err, ErrStopped) {
		return err
	}
	return ctx.Err()
}

// settleWindow holds the readings of the latest stretch of time.
type settleWindow struct {
	spread  float64
	lasting time.Duration
	at      []time.Time
	values  []float64
}

// add takes a reading and drops those that the window does not need: all before the
// last that is as old as the window is long.
func (s *settleWindow) add(at time.Time, value float64) {
	s.at, s.values = append(s.at, at), append(s.values, value)
	for len(s.at) > 2 && at.Sub(s.at[1]) >= s.lasting {
		s.at, s.values = s.at[1:], s.values[1:]
	}
}

// length is the time from the first reading to the last.
func (s *settleWindow) length() time.Duration {
	if len(s.at) == 0 {
		return 0
	}
	return s.at[len(s.at)-1].Sub(s.at[0])
}

// moved is the largest less the smallest reading; NaN without any.
func (s *settleWindow) moved() float64 {
	if len(s.values) == 0 {
		return math.NaN()
	}
	return slices.Max(s.values) - slices.Min(s.values)
}

// settledOf is the least number of readings by which anything can be called settled.
const settledOf = 3

func (s *settleWindow) settled() bool {
	return len(s.values) >= settledOf && s.length() >= s.lasting && s.moved() <= s.spread
}

// sampling returns what gives the readings of a measure one by one, however its
// instrument gives them; stop ends it.
func (w *pointWork) sampling(ctx context.Context, m device.Measure) (next func(context.Context) (device.Reading, error), stop func() error, err error) {
	nothing := func() error { return nil }
	commands, ok := w.bench.commandsOf(w.report.Step.Instrument)
	if !ok {
		return nil, nil, fmt.Errorf("test point %s: the bench has no instrument %q", w.report.Step.Point.Name, w.report.Step.Instrument)
	}
	switch how, _ := commandedBy(commands, w.report.Step.Point, m); how {
	case byListening:
		tapped, stop, err := w.bench.tapInput(ctx, input{w.report.Step.Instrument, w.report.Step.Channel})
		return func(ctx context.Context) (device.Reading, error) { return w.heard(ctx, tapped, m) }, stop, err
	case byCapture:
		with := w.beside(ctx)
		return func(ctx context.Context) (device.Reading, error) { return w.reducedTo(ctx, m, with) }, nothing, nil
	case byAsking:
		return w.asking(m), nothing, nil
	}
	return nil, nil, fmt.Errorf("test point %s: instrument %s does not give %s", w.report.Step.Point.Name, w.report.Step.Instrument, m)
}

// reducedTo takes one record and returns the figure of a measure.
func (w *pointWork) reducedTo(ctx context.Context, m device.Measure, with beside) (device.Reading, error) {
	_, reduced, err := w.captureOnce(ctx, with)
	if err != nil {
		return device.Reading{}, err
	}
	for _, r := range reduced.readings {
		if r.Measure == m {
			return r, nil
		}
	}
	return device.Reading{}, fmt.Errorf("%s cannot be measured in this signal", m)
}

// discharge watches the voltage down until it has stayed below for long enough.
func (w *stepWork) discharge(ctx context.Context) error {
	step, err := w.roundStep(ctx)
	if err != nil {
		return err
	}
	w.result.Volts = math.NaN()
	last := time.Time{}
	err = w.bench.WatchDischarge(ctx, w.final.Unit, w.final.Place, w.step.TestPoint, func(o reservoir.Outlook) bool {
		w.result.Watched, w.result.Volts, last = o.Watched, o.Volts, w.bench.now()
		w.tell(0, "%s", o.Text())
		return !o.Watched
	})
	if err != nil {
		return err
	}
	if !math.IsNaN(w.result.Volts) {
		w.result.Readings = []checks.StepReading{{Repeat: 1, TestPoint: w.step.TestPoint, Measure: device.DCVoltage,
			Instrument: step.Instrument, At: last, Value: w.result.Volts, Averaged: 1}}
	}
	return ctx.Err()
}
