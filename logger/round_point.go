package logger

import (
	"context"
	"fmt"
	"slices"
	"time"

	"soakline/checks"
	"soakline/device"
	"soakline/logger/book"
)

// PointReport is what a round found at one test point.
type PointReport struct {
	Step RoundStep
	// Readings are the figures, and what else the record gave. What could not be
	// measured is not among them: it is no 0.
	Readings []book.RoundReading
	// Figures are the same against the sheet, with what is missing.
	Figures  []RoundFigure
	Findings []checks.Finding
	// Remarks say in words what a person should know about the readings: that one
	// had not settled, or why a figure is missing.
	Remarks []string
	// Trouble is why the instrument could not be read; nil if it could.
	Trouble error
}

// How a round reads (common practice, no source).
const (
	// roundCaptures is how many records a test point's figures are the mean of;
	// humCaptures is how many of composite video, because hum shows only in how
	// several short records differ.
	roundCaptures, humCaptures = 3, 16
	// roundPatience is how long one answer may take, the wait for an instrument
	// that is away or busy with a soak included.
	roundPatience = 12 * time.Second
	// awayPatience is the same for an instrument that is away or in trouble,
	// and for asking again after a question has failed.
	awayPatience = 5 * time.Second
	// roundTries is how often a question may fail before the test point is given
	// up.
	roundTries = 2
)

// ReadPoint reads one test point of a round that is under way and keeps what it
// found. An instrument that cannot be read is no error but the report's Trouble;
// the figures stay unknown.
func (b *Bench) ReadPoint(ctx context.Context, unit checks.UnitID, label, place string, point checks.TestPointName) (PointReport, error) {
	round, err := b.openRound(ctx, unit, label)
	if err != nil {
		return PointReport{}, err
	}
	plan, err := b.PlanRound(ctx, unit, place)
	if err != nil {
		return PointReport{}, err
	}
	at := slices.IndexFunc(plan.Steps, func(s RoundStep) bool { return s.Point.Name == point })
	if at < 0 {
		return PointReport{}, fmt.Errorf("round %q: %w: sheet %s has no test point %q", label, book.ErrNotFound, plan.Sheet.Name, point)
	}
	work := &pointWork{bench: b, round: round.ID, sheet: plan.Sheet, report: PointReport{Step: plan.Steps[at]}}
	if err := work.read(ctx); err != nil {
		return PointReport{}, err
	}
	if err := b.options.Book.AddRoundReadings(ctx, round.ID, work.report.Readings...); err != nil {
		return PointReport{}, err
	}
	b.Tell(Happening{Kind: PointRead, Unit: unit, Round: label, Check: checks.CheckKey{TestPoint: point}, Instrument: plan.Steps[at].Instrument})
	round, err = b.options.Book.Round(ctx, unit, label)
	for _, f := range RoundFigures(plan.Sheet, round.Readings) {
		if f.Check.TestPoint == point {
			work.report.Figures = append(work.report.Figures, f)
		}
	}
	return work.report, err
}

// pointWork is the reading of one test point.
type pointWork struct {
	bench  *Bench
	round  book.RoundID
	sheet  checks.Sheet
	report PointReport
}

// read asks, listens and captures as the instrument gives the measures. An error
// is the book's, or that the context ended.
func (w *pointWork) read(ctx context.Context) error {
	commands, ok := w.bench.commandsOf(w.report.Step.Instrument)
	if !ok {
		return fmt.Errorf("test point %s: the bench has no instrument %q", w.report.Step.Point.Name, w.report.Step.Instrument)
	}
	captured := w.report.Step.Point.Reservoir != nil && commands.CaptureFor(device.RippleSignal) != nil
	for _, m := range w.measures() {
		if w.report.Trouble != nil {
			break
		}
		how, ask := commandedBy(commands, w.report.Step.Point, m)
		switch how {
		case byAsking:
			w.settle(ctx, m, ask.Accuracy, w.asking(m))
		case byListening:
			w.listen(ctx, m, commands.Listen.Accuracy)
		case byCapture:
			captured = true
		case byNothing:
			w.remark("%s: instrument %s does not give it", m, w.report.Step.Instrument)
		}
	}
	if captured && w.report.Trouble == nil {
		if err := w.capture(ctx); err != nil {
			return err
		}
	}
	return ctx.Err()
}

// measures are those of the test point's checks and those that a trial would be
// ranked by.
func (w *pointWork) measures() []device.Measure {
	var all []device.Measure
	for _, check := range w.report.Step.Point.Checks {
		all = append(all, check.Measure)
	}
	for _, target := range w.sheet.TrialCriteria() {
		if target.TestPoint == w.report.Step.Point.Name && !slices.Contains(all, target.Measure) {
			all = append(all, target.Measure)
		}
	}
	return all
}

func (w *pointWork) remark(format string, args ...any) {
	w.report.Remarks = append(w.report.Remarks, fmt.Sprintf(format, args...))
}

// take enters a figure that n readings gave.
func (w *pointWork) take(r device.Reading, n int) {
	if !(r.StandardUncertainty > 0) {
		r.StandardUncertainty = 0
	}
	w.report.Readings = append(w.report.Readings, book.RoundReading{TestPoint: w.report.Step.Point.Name,
		Instrument: w.report.Step.Instrument, Reading: r, Averaged: n})
}

// errand has work done in the instrument's conversation, between the questions of
// the soaks, and once more if it fails.
func (w *pointWork) errand(ctx context.Context, work func(context.Context, *device.Session) error) error {
	keeper := w.bench.keepers[w.report.Step.Instrument]
	var err error
	for n := range roundTries {
		patience := roundPatience
		if status := keeper.Status(); n > 0 || !status.Up || status.Trouble != "" {
			patience = awayPatience
		}
		try, cancel := context.WithTimeout(ctx, patience)
		err = keeper.Do(try, work)
		cancel()
		if err == nil || ctx.Err() != nil {
			return err
		}
	}
	return err
}

// asking returns one reading of a measure at each call, not faster than apart.
func (w *pointWork) asking(m device.Measure) func(context.Context) (device.Reading, error) {
	var next time.Time
	return func(ctx context.Context) (r device.Reading, err error) {
		if err := pause(ctx, time.Until(next)); err != nil {
			return r, err
		}
		next = time.Now().Add(apart)
		err = w.errand(ctx, func(ctx context.Context, s *device.Session) (err error) {
			r, err = s.Read(ctx, w.report.Step.Channel, m)
			return err
		})
		return r, err
	}
}

// capture takes the test point's records, keeps them, and takes the means of what
// they are reduced to.
func (w *pointWork) capture(ctx context.Context) error {
	found := map[device.Measure][]device.Reading{}
	var order []device.Measure
	records, series, noticed := roundCaptures, videoSeries{}, noticed{}
	with := w.beside(ctx)
	if w.report.Step.Point.IsComposite() {
		records = humCaptures
	}
	for range records {
		record, reduced, err := w.captureOnce(ctx, with)
		if err != nil {
			w.report.Trouble = err
			return nil
		}
		series.add(record)
		about := book.KeptCapture{Round: w.round, TestPoint: w.report.Step.Point.Name, Instrument: w.report.Step.Instrument, Kind: book.CaptureRound}
		if _, err := w.bench.options.Book.AddCapture(ctx, about, record); err != nil {
			return err
		}
		noticed.add(reduced.findings)
		for _, r := range reduced.readings {
			if found[r.Measure] == nil {
				order = append(order, r.Measure)
			}
			found[r.Measure] = append(found[r.Measure], r)
		}
	}
	for _, m := range order {
		w.take(meanOfRecords(found[m]), len(found[m]))
	}
	w.report.Findings = noticed.byMost(records)
	w.hum(series)
	commands, _ := w.bench.commandsOf(w.report.Step.Instrument)
	for _, m := range w.measures() {
		if how, _ := commandedBy(commands, w.report.Step.Point, m); how == byCapture && found[m] == nil {
			w.remark("%s cannot be measured in this signal", m)
		}
	}
	return nil
}

// captureOnce takes one record and reduces it.
func (w *pointWork) captureOnce(ctx context.Context, with beside) (record device.Capture, reduced reduction, err error) {
	err = w.errand(ctx, func(ctx context.Context, s *device.Session) (err error) {
		record, err = s.Capture(ctx, w.report.Step.Shot)
		return err
	})
	if err == nil {
		reduced, err = reduce(record, w.report.Step.Point, w.sheet, with)
	}
	return record, reduced, err
}

// pause waits, unless the context ends first.
func pause(ctx context.Context, d time.Duration) error {
	if d <= 0 {
		return ctx.Err()
	}
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case <-ctx.Done():
		return ctx.Err()
	case <-timer.C:
		return nil
	}
}
