package report

import (
	"errors"
	"fmt"
	"io"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// LinePlot is a line of composite video, or several laid over one another: time
// across, volts up.
type LinePlot struct {
	Title string
	// Traces are drawn in ink, one line style each; at least one.
	Traces []Trace
	// Baseline, if not nil, is drawn under them in ochre.
	Baseline *Trace
	// Rulers are measured levels.
	Rulers []Ruler
}

// Ruler is a measured level, drawn across with its figure at the right edge.
type Ruler struct {
	Label string
	Volts float64
	// Text is the figure as it is printed elsewhere; empty prints Volts with
	// decimals that suit the drawing.
	Text string
}

// SVG writes the plot as an SVG document.
func (p LinePlot) SVG(w io.Writer) error { return writeSVG(w, p) }

// PNG writes the plot as a PNG image of 1440 by 720 pixels.
func (p LinePlot) PNG(w io.Writer) error { return writePNG(w, p) }

// Validate says what cannot be drawn, all of it at once.
func (p LinePlot) Validate() error { return p.check() }

func (p LinePlot) check() error {
	var wrong []error
	if len(p.Traces) == 0 {
		wrong = append(wrong, errors.New("no trace"))
	}
	seen := newSpan()
	for _, t := range p.all() {
		if !(t.IntervalSeconds > 0) || !drawable(t.StartSeconds) || !drawable(t.endSeconds()) {
			wrong = append(wrong, fmt.Errorf("trace %q: interval %v s, start %v s", t.Label, t.IntervalSeconds, t.StartSeconds))
		}
		seen.take(t.Volts...)
	}
	if len(p.Traces) > 0 && seen.empty() {
		wrong = append(wrong, errors.New("no trace has a sample"))
	}
	for _, r := range p.Rulers {
		if !drawable(r.Volts) {
			wrong = append(wrong, fmt.Errorf("ruler %q: %v V", r.Label, r.Volts))
		}
	}
	if err := errors.Join(wrong...); err != nil {
		return fmt.Errorf("plot %q: %w", p.Title, err)
	}
	return nil
}

// all is every trace, the baseline first because it lies under the others.
func (p LinePlot) all() []Trace {
	if p.Baseline == nil {
		return p.Traces
	}
	return append([]Trace{*p.Baseline}, p.Traces...)
}

func (p LinePlot) caption() string {
	var parts []string
	for _, t := range p.Traces {
		parts = append(parts, t.Label)
	}
	if p.Baseline != nil {
		parts = append(parts, "baseline "+p.Baseline.Label)
	}
	for _, r := range p.Rulers {
		parts = append(parts, r.Label+" "+p.rulerText(r))
	}
	return p.Title + ": " + strings.Join(parts, ", ")
}

func (p LinePlot) rulerText(r Ruler) string {
	if r.Text != "" {
		return r.Text
	}
	return figureText(r.Volts, p.height(), "V")
}

// height is the range of volts drawn.
func (p LinePlot) height() span {
	s := newSpan()
	for _, t := range p.all() {
		s.take(t.Volts...)
	}
	for _, r := range p.Rulers {
		s.take(r.Volts)
	}
	return s.padded(0.06)
}

// width is the range of seconds drawn.
func (p LinePlot) width() span {
	s := newSpan()
	for _, t := range p.all() {
		if len(t.Volts) > 0 {
			s.take(t.StartSeconds, t.endSeconds())
		}
	}
	return s.padded(0)
}

func (p LinePlot) drawOn(sheet draw.Canvas) {
	axes := newPaperPlot()
	height, width := p.height(), p.width()
	unit, perSecond := timeUnit(max(width.high-width.low, 0))
	across := span{width.low * perSecond, width.high * perSecond}
	xTicks, yTicks := decimalTicks(across, 8, ""), decimalTicks(height, 8, "V")
	axes.X.Min, axes.X.Max, axes.X.Tick.Marker = across.low, across.high, xTicks
	axes.Y.Min, axes.Y.Max, axes.Y.Tick.Marker = height.low, height.high, yTicks
	axes.X.Label.Text = "time in " + unit

	key := legend{}
	rs := p.rulers()
	axes.Add(grid{yTicks})
	if p.Baseline != nil {
		look := traceLook{line: pen(ochre, 1.25)}
		axes.Add(tracePlotter{*p.Baseline, look, perSecond})
		key = append(key, legendEntry{"baseline " + p.Baseline.Label, look})
	}
	axes.Add(rs)
	for i, t := range p.Traces {
		axes.Add(tracePlotter{t, lookOf(i, len(p.Traces)), perSecond})
		key = append(key, legendEntry{t.Label, lookOf(i, len(p.Traces))})
	}
	layOut(sheet, axes, p.Title, key, rs.margin())
}

func (p LinePlot) rulers() rulers {
	var rs rulers
	for _, r := range p.Rulers {
		rs = append(rs, ruler{at: r.Volts, text: strings.TrimSpace(r.Label + " " + p.rulerText(r)), color: seaGreen})
	}
	return rs
}

// layOut puts title, legend and axes on the sheet, with a margin at their right.
func layOut(sheet draw.Canvas, axes *plot.Plot, title string, key legend, right vg.Length) {
	fillRectangle(sheet, paper, sheet.Min.X, sheet.Min.Y, sheet.Max.X, sheet.Max.Y)
	body := draw.Crop(sheet, marginLeft, -right, marginBottom, -marginTop)
	if title != "" {
		style := typeStyle(titleSize, ink)
		room := sheet.Max.X - body.Min.X - marginLeft
		sheet.FillText(style, vg.Point{X: body.Min.X, Y: body.Max.Y - titleHeight/3}, fitLabel(style, title, room))
		body.Max.Y -= titleHeight
	}
	body.Max.Y -= key.draw(sheet, body.Min.X, sheet.Max.X-marginLeft, body.Max.Y)
	axes.Draw(body)
}
