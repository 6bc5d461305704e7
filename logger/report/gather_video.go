package report

import (
	"context"
	"fmt"

	"soakline/checks"
	"soakline/device"
	"soakline/logger"
	"soakline/logger/book"
)

// soakLines lays the video lines at the begin and the end of the soak over one
// another.
func (g gatherer) soakLines(ctx context.Context, soak book.Soak, sheet checks.Sheet, c *Certificate) error {
	lines, err := logger.SoakVideoLines(ctx, g.book, sheet, soak.ID)
	if err != nil || len(lines) == 0 {
		return err
	}
	plot := LinePlot{Title: fmt.Sprintf("%s video line, soak %d", c.Unit, soak.ID)}
	for _, line := range lines {
		trace := traceOf(line.At.In(c.zone).Format("2 Jan 15:04:05"), line)
		if line.Kind == book.CaptureBegin && len(lines) > 1 {
			plot.Baseline = &trace
			continue
		}
		plot.Traces = append(plot.Traces, trace)
	}
	c.addLine(plot)
	return nil
}

func traceOf(label string, line logger.VideoLine) Trace {
	return Trace{Label: label, StartSeconds: line.StartSeconds, IntervalSeconds: line.IntervalSeconds, Volts: line.Volts}
}

// videoRulers are the levels that a round measured.
func videoRulers(round book.Round) []Ruler {
	var rulers []Ruler
	for _, level := range []struct {
		measure device.Measure
		label   string
	}{{device.SyncTip, "sync tip"}, {device.Blanking, "blanking"}, {device.Black, "black"}, {device.White, "white"}} {
		for _, r := range round.Readings {
			if r.Measure == level.measure {
				rulers = append(rulers, Ruler{Label: level.label, Volts: r.Value, Text: checks.Figure(r.Value, r.StandardUncertainty, device.Volt)})
			}
		}
	}
	return rulers
}

// addLine takes in a plot that can be drawn.
func (c *Certificate) addLine(plot LinePlot) {
	if plot.Validate() != nil {
		return // a line without a sample is no line
	}
	part := LinePart{Title: plot.Title, plot: plot, Labels: []string{}}
	if plot.Baseline != nil {
		part.Labels = append(part.Labels, plot.Baseline.Label)
	}
	for _, t := range plot.Traces {
		part.Labels = append(part.Labels, t.Label)
	}
	c.Lines = append(c.Lines, part)
}
