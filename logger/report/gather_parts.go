package report

import (
	"cmp"
	"context"
	"math"
	"slices"
	"time"

	"soakline/checks"
	"soakline/device"
	"soakline/logger"
	"soakline/logger/book"
)

const (
	// columns is how many intervals a soak's plot has.
	columns = 400
	// manyReadings is from how many readings on an interval's ends may be those of
	// blocks: there are as many blocks as intervals then.
	manyReadings = 200_000
)

// checks adds each check with its figures and plot.
func (g gatherer) checks(ctx context.Context, soak book.Soak, sheet checks.Sheet, verdict checks.Verdict, c *Certificate) error {
	most := 0
	for _, result := range verdict.Checks {
		most = max(most, result.Readings)
	}
	read := g.book.Envelopes
	if most > manyReadings {
		read = g.book.Overviews
	}
	found, err := read(ctx, book.Filter{Soak: soak.ID}, columns)
	if err != nil {
		return err
	}
	last, err := g.book.Last(ctx, book.Filter{Soak: soak.ID})
	if err != nil {
		return err
	}
	for _, result := range verdict.Checks {
		point, check := checkOf(sheet, result.Check)
		part := checkPart(point, check, result, uncertaintyOf(last, result.Check))
		part.Envelope = envelopeOf(found, result.Check)
		part.plot = soakPlot(c, check, result, part)
		c.Checks = append(c.Checks, part)
	}
	return nil
}

// checkOf finds a check in a sheet; a check that is not there has no limit.
func checkOf(sheet checks.Sheet, key checks.CheckKey) (checks.TestPoint, checks.Check) {
	for _, point := range sheet.TestPoints {
		for _, check := range point.Checks {
			if point.Name == key.TestPoint && check.Measure == key.Measure {
				return point, check
			}
		}
	}
	open := checks.Limit{Low: math.Inf(-1), High: math.Inf(1), Nominal: math.NaN()}
	return checks.TestPoint{Name: key.TestPoint}, checks.Check{Measure: key.Measure, Limit: open}
}

// uncertaintyOf is the standard uncertainty of a check's last reading; NaN if there
// is none.
func uncertaintyOf(last []book.TaggedReading, key checks.CheckKey) float64 {
	for _, r := range last {
		if r.Tag.TestPoint == key.TestPoint && r.Tag.Measure == key.Measure {
			return r.StandardUncertainty
		}
	}
	return math.NaN()
}

func checkPart(point checks.TestPoint, check checks.Check, result checks.CheckResult, u float64) CheckPart {
	unit := result.Check.Measure.Unit()
	part := CheckPart{
		TestPoint: string(result.Check.TestPoint), About: point.About, Measure: string(result.Check.Measure), Unit: unit.Symbol,
		Outcome: result.Outcome, Limit: limitPart(check.Limit, unit), Readings: result.Readings,
		Low: figurePart(result.Low, u, unit), Mean: figurePart(result.Mean, u, unit), High: figurePart(result.High, u, unit),
		EvidenceRatio: checks.Number(result.Evidence), LongestGapS: result.LongestGap.Seconds(),
		Outside: result.OutsideCount, Borderline: result.BorderlineCount, Excursions: []ExcursionPart{}, Gaps: []GapPart{},
		bracket: checks.Bracket{Limit: check.Limit, U: u, Reading: result.Mean, Low: result.Low, High: result.High, State: standing(result)},
	}
	for _, e := range result.Excursions {
		part.Excursions = append(part.Excursions, ExcursionPart{State: e.State, Edge: e.Edge, From: e.From, To: moment(e.To),
			Worst: figurePart(e.Worst, e.WorstU, unit), U: checks.Number(e.WorstU)})
	}
	for _, gap := range result.Gaps {
		part.Gaps = append(part.Gaps, GapPart{From: gap.From, To: gap.To, Cause: gap.Cause})
	}
	return part
}

// standing is the worst state that a check was in.
func standing(r checks.CheckResult) checks.State {
	switch {
	case r.Readings == 0:
		return checks.Silent
	case r.OutsideCount > 0:
		return checks.Outside
	case r.BorderlineCount > 0:
		return checks.Borderline
	default:
		return checks.Within
	}
}

func figurePart(value, u float64, unit device.Unit) FigurePart {
	return FigurePart{Value: checks.Number(value), Text: checks.Figure(value, u, unit)}
}

func limitPart(l checks.Limit, unit device.Unit) LimitPart {
	part := LimitPart{Low: checks.Number(l.Low), Nominal: checks.Number(l.Nominal), High: checks.Number(l.High), Rule: l.Guard.Rule, Source: l.Source}
	low, high := checks.Figure(l.Low, 0, unit), checks.Figure(l.High, 0, unit)
	switch {
	case math.IsInf(l.Low, 0) && math.IsInf(l.High, 0):
		part.Text = "none"
	case math.IsInf(l.Low, 0):
		part.Text = "at most " + high
	case math.IsInf(l.High, 0):
		part.Text = "at least " + low
	default:
		part.Text = low + " to " + high
	}
	return part
}

func moment(t time.Time) *time.Time {
	if t.IsZero() {
		return nil
	}
	return &t
}

// envelopeOf joins the series of a check: more than one instrument may have read it.
func envelopeOf(found []book.Envelope, key checks.CheckKey) []EnvelopePart {
	parts := []EnvelopePart{}
	for _, series := range found {
		if series.Tag.TestPoint != key.TestPoint || series.Tag.Measure != key.Measure {
			continue
		}
		for _, bucket := range series.Buckets {
			if bucket.Count > 0 {
				at := bucket.From.Add(bucket.Until.Sub(bucket.From) / 2)
				parts = append(parts, EnvelopePart{At: at, Low: checks.Number(bucket.Low), High: checks.Number(bucket.High)})
			}
		}
	}
	slices.SortStableFunc(parts, func(a, b EnvelopePart) int { return a.At.Compare(b.At) })
	return parts
}

// soakPlot draws a check over its soak. A limit on a difference has no place on a
// plot of the readings, and the title says so.
func soakPlot(c *Certificate, check checks.Check, result checks.CheckResult, part CheckPart) SoakPlot {
	plot := SoakPlot{Title: part.TestPoint + " " + part.Measure, Unit: part.Unit, Begin: c.Soak.Begin.In(c.zone),
		End:     c.Soak.Begin.Add(max(time.Duration(c.Soak.PlannedS*float64(time.Second)), c.Soak.End.Sub(c.Soak.Begin), time.Second)).In(c.zone),
		Written: c.Soak.End, Low: check.Limit.Low, High: check.Limit.High, GuardWidth: check.Limit.Guard.WidthFor(part.bracket.U)}
	if check.Against != (checks.Reference{}) {
		plot.Low, plot.High, plot.GuardWidth = math.Inf(-1), math.Inf(1), 0
		plot.Title += ", the readings; the limit is on their difference from " + cmp.Or(string(check.Against.TestPoint), "the soak's own begin")
	}
	scale := 1.0
	if result.Check.Measure.Unit() == device.Ratio { // printed in percent, as everywhere
		plot.Unit, scale = "%", 100
	}
	plot.Low, plot.High, plot.GuardWidth = scale*plot.Low, scale*plot.High, scale*plot.GuardWidth
	if len(result.Excursions) > 0 {
		plot.room = 0.2 // the worst figure stands below or above its mark
	}
	for _, e := range part.Envelope {
		plot.Envelope = append(plot.Envelope, EnvelopePoint{At: e.At, Low: scale * float64(e.Low), High: scale * float64(e.High)})
	}
	for _, gap := range result.Gaps {
		plot.Gaps = append(plot.Gaps, PlotInterval{From: gap.From, To: gap.To})
	}
	for _, e := range result.Excursions {
		if check.Against == (checks.Reference{}) && drawable(e.Worst) {
			plot.Excursions = append(plot.Excursions, ExcursionMark{PlotInterval: PlotInterval{From: e.From, To: e.To}, Worst: scale * e.Worst, Borderline: e.State == checks.Borderline})
		}
	}
	return plot
}

func changes(compared logger.Comparison) *ChangesPart {
	part := &ChangesPart{Before: compared.Before.Label, BeforeBegin: compared.Before.Begin, After: compared.After.Label, AfterBegin: compared.After.Begin, Rows: []ChangePart{}}
	for _, line := range compared.Lines {
		if line.Before.Reading == nil && line.After.Reading == nil {
			continue
		}
		unit := line.Check.Measure.Unit()
		part.Rows = append(part.Rows, ChangePart{TestPoint: string(line.Check.TestPoint), Measure: string(line.Check.Measure), Unit: unit.Symbol,
			Before: FigurePart{checks.Number(line.Before.Figure), line.Before.Text()}, After: FigurePart{checks.Number(line.After.Figure), line.After.Text()},
			Change: checks.Number(line.Change), ChangeU: checks.Number(line.ChangeU), Text: line.ChangeText(), Meaning: line.Meaning()})
	}
	return part
}
