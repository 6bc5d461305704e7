package report

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"math"
	"time"

	"gonum.org/v1/plot/vg/draw"
)

// SoakPlot is one check over a soak: the readings between their lowest and
// highest, the limits with their guard band, gaps as gaps and excursions marked.
type SoakPlot struct {
	Title string
	// Unit stands behind every figure: "V".
	Unit string
	// Begin and End are the planned soak. What lies behind Written is hatched; the
	// zero time says that all of it is written.
	Begin, End, Written time.Time
	// Envelope is in the order of time; points outside the soak are not drawn.
	Envelope []EnvelopePoint
	Gaps     []PlotInterval
	// Low and High are the limits; an infinity where a side has none.
	Low, High float64
	// GuardWidth is how far the guard band reaches in from each limit; 0 for none.
	GuardWidth float64
	Excursions []ExcursionMark

	// room is the share of the height that is left above and below what is drawn;
	// 0 for what suits a large drawing.
	room float64
}

// EnvelopePoint is the readings of a short time, drawn at At. NaN for both ends
// says that there were none.
type EnvelopePoint struct {
	At        time.Time
	Low, High float64
}

// PlotInterval is a time from one moment to another.
type PlotInterval struct{ From, To time.Time }

// ExcursionMark is an interval outside a limit; its To is the zero time while it
// lasts.
type ExcursionMark struct {
	PlotInterval
	// Worst is the figure farthest out; Borderline marks one that stayed in the
	// guard band.
	Worst      float64
	Borderline bool
}

// SVG writes the plot as an SVG document.
func (p SoakPlot) SVG(w io.Writer) error { return writeSVG(w, p) }

// PNG writes the plot as a PNG image of 1440 by 720 pixels.
func (p SoakPlot) PNG(w io.Writer) error { return writePNG(w, p) }

// Validate says what cannot be drawn, all of it at once.
func (p SoakPlot) Validate() error { return p.check() }

func (p SoakPlot) check() error {
	var wrong []error
	if !p.End.After(p.Begin) {
		wrong = append(wrong, fmt.Errorf("the soak ends at %s and begins at %s", p.End.Format(time.RFC3339), p.Begin.Format(time.RFC3339)))
	}
	if math.IsNaN(p.Low) || math.IsNaN(p.High) || p.Low >= p.High {
		wrong = append(wrong, fmt.Errorf("limits %v to %v", p.Low, p.High))
	}
	if !(p.GuardWidth >= 0) || math.IsInf(p.GuardWidth, 0) {
		wrong = append(wrong, fmt.Errorf("guard band %v wide", p.GuardWidth))
	}
	for i, point := range p.Envelope {
		if point.Low > point.High {
			wrong = append(wrong, fmt.Errorf("readings at %s from %v to %v", point.At.Format(time.RFC3339), point.Low, point.High))
		}
		if i > 0 && point.At.Before(p.Envelope[i-1].At) {
			wrong = append(wrong, fmt.Errorf("readings at %s stand behind later ones", point.At.Format(time.RFC3339)))
		}
	}
	for _, gap := range p.Gaps {
		if gap.To.Before(gap.From) {
			wrong = append(wrong, fmt.Errorf("gap at %s ends before it begins", gap.From.Format(time.RFC3339)))
		}
	}
	for _, e := range p.Excursions {
		if !drawable(e.Worst) {
			wrong = append(wrong, fmt.Errorf("excursion at %s: worst %v", e.From.Format(time.RFC3339), e.Worst))
		}
	}
	if err := errors.Join(wrong...); err != nil {
		return fmt.Errorf("plot %q: %w", p.Title, err)
	}
	return nil
}

// written is the moment up to which there can be readings.
func (p SoakPlot) written() time.Time {
	if p.Written.IsZero() {
		return p.End
	}
	return p.Written
}

func (p SoakPlot) caption() string {
	seen := newSpan()
	for _, point := range p.Envelope {
		seen.take(point.Low, point.High)
	}
	readings := "no readings"
	if !seen.empty() {
		readings = fmt.Sprintf("readings from %s to %s", p.figure(seen.low), p.figure(seen.high))
	}
	return fmt.Sprintf("%s: %s, gaps: %d, excursions: %d", p.Title, readings, len(p.Gaps), len(p.Excursions))
}

func (p SoakPlot) figure(v float64) string { return figureText(v, p.height(), p.Unit) }

// height is the range of figures drawn.
func (p SoakPlot) height() span {
	s := newSpan()
	s.take(p.Low, p.High)
	for _, point := range p.Envelope {
		s.take(point.Low, point.High)
	}
	for _, e := range p.Excursions {
		s.take(e.Worst)
	}
	return s.padded(cmp.Or(p.room, 0.08))
}

func (p SoakPlot) drawOn(sheet draw.Canvas) {
	axes := newPaperPlot()
	height := p.height()
	yTicks := decimalTicks(height, 8, cleanLabel(p.Unit))
	axes.X.Min, axes.X.Max = 0, p.End.Sub(p.Begin).Seconds()
	axes.X.Tick.Marker = clockTicks(p.Begin, p.End, 8)
	axes.Y.Min, axes.Y.Max, axes.Y.Tick.Marker = height.low, height.high, yTicks
	rs := p.limitRulers()
	axes.Add(guardBands{p}, grid{yTicks}, gapMarks{p}, unwritten{p}, rs, envelope{p}, excursionMarks{p})
	layOut(sheet, axes, p.Title, p.legend(), rs.margin())
}

// legend names only what is there to be seen.
func (p SoakPlot) legend() legend {
	key := legend{{"readings, lowest to highest", lineLook(seaGreen, 5)}}
	if p.GuardWidth > 0 {
		key = append(key, legendEntry{"guard band", lineLook(guardTint, 7)})
	}
	if len(p.Gaps) > 0 {
		key = append(key, legendEntry{"no readings", traceLook{line: gapPen}})
	}
	outside, borderline := 0, 0
	for _, e := range p.Excursions {
		if e.Borderline {
			borderline++
		} else {
			outside++
		}
	}
	if outside > 0 {
		key = append(key, legendEntry{fmt.Sprintf("outside (%d)", outside), lineLook(brick, 3)})
	}
	if borderline > 0 {
		key = append(key, legendEntry{fmt.Sprintf("borderline (%d)", borderline), lineLook(ochre, 3)})
	}
	return key
}

func (p SoakPlot) limitRulers() rulers {
	var rs rulers
	for _, edge := range []struct {
		name string
		at   float64
	}{{"low", p.Low}, {"high", p.High}} {
		if drawable(edge.at) {
			rs = append(rs, ruler{at: edge.at, text: edge.name + " limit " + p.figure(edge.at), color: ink})
		}
	}
	return rs
}
