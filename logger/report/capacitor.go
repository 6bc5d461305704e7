package report

import (
	"context"
	"time"

	"soakline/checks"
	"soakline/device"
	"soakline/logger"
)

// CapacitorPart is one figure of a capacitor over the unit's rounds, soaks and
// discharges, up to the verdict.
type CapacitorPart struct {
	TestPoint string         `json:"test_point"`
	Measure   string         `json:"measure"`
	Unit      string         `json:"unit"`
	Figures   []CapacitorDay `json:"figures"`
	Trend     string         `json:"trend,omitempty"`
	Findings  []string       `json:"findings"`
}

// CapacitorDay is the figure of one day.
type CapacitorDay struct {
	At     time.Time  `json:"at"`
	Kind   string     `json:"kind"`
	Figure FigurePart `json:"figure"`
}

// capacitors adds the history of the unit's capacitors: what is measured in farads,
// and their series resistance.
func (g gatherer) capacitors(ctx context.Context, sheet checks.Sheet, c *Certificate) error {
	history, err := logger.HistoryFromBook(ctx, g.book, checks.UnitID(c.Unit), logger.HistoryOptions{Sheet: sheet, Parse: g.options.ParseSheet})
	if err != nil {
		return err
	}
	for _, course := range history.Courses {
		if m := course.Check.Measure; m == device.Capacitance || m == device.SeriesResistance {
			if part := capacitorPart(course, history.Wear, c.Given); len(part.Figures) > 0 {
				c.Capacitors = append(c.Capacitors, part)
			}
		}
	}
	return nil
}

// capacitorPart leaves out what was measured after the verdict, and then the trend
// as well, which rests on it.
func capacitorPart(course logger.HistoryCourse, wear []logger.PartWear, given time.Time) CapacitorPart {
	unit := course.Check.Measure.Unit()
	part := CapacitorPart{TestPoint: string(course.Check.TestPoint), Measure: string(course.Check.Measure), Unit: unit.Symbol,
		Figures: []CapacitorDay{}, Trend: course.Text(), Findings: []string{}}
	later := false
	for _, f := range course.Figures {
		if f.At.After(given) {
			later = true
			continue
		}
		part.Figures = append(part.Figures, CapacitorDay{At: f.At, Kind: string(f.Kind), Figure: figurePart(f.Value, f.U, unit)})
	}
	if later {
		part.Trend = ""
		return part
	}
	for _, w := range wear {
		if w.TestPoint != course.Check.TestPoint {
			continue
		}
		for i, trend := range []struct {
			m    device.Measure
			text string
		}{{device.Capacitance, logger.MonthsText(w.Capacitance.MonthsTrend, w.Capacitance.Limit, unit)}, {device.SeriesResistance, logger.MonthsText(w.ESR.MonthsTrend, w.ESR.Limit, unit)}} {
			if trend.m == course.Check.Measure && w.Plan.Figures()[i].Limit != nil {
				part.Trend = trend.text
			}
		}
		for _, f := range w.Findings {
			if f.State != checks.Within && course.Check.Measure == device.Capacitance {
				part.Findings = append(part.Findings, f.Text+" "+f.Advice)
			}
		}
	}
	return part
}

// capacitorLines are the capacitors' histories as every paper says them.
func (c Certificate) capacitorLines() []string {
	const most = 12
	var lines []string
	for _, part := range c.Capacitors {
		line := part.TestPoint + " " + part.Measure + ":"
		figures := part.Figures
		if len(figures) > most {
			figures = figures[len(figures)-most:]
			line += " …"
		}
		for i, f := range figures {
			if i > 0 {
				line += " ->"
			}
			line += " " + f.Figure.Text + " (" + f.Kind + " of " + f.At.In(c.zone).Format("2 Jan 2006") + ")"
		}
		if part.Trend != "" {
			line += "; " + part.Trend
		}
		lines = append(append(lines, line+"."), part.Findings...)
	}
	return lines
}
