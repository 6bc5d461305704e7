package report

import (
	"errors"
	"fmt"
	"io"
	"math"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// SpectrumPlot is one or more spectra laid over one another: frequency across in
// decades, level up in decibels.
type SpectrumPlot struct {
	Title string
	// Spectra are drawn in ink, one line style each; at least one.
	Spectra []SpectrumTrace
	// Rulers are measured levels, their Volts in decibels of LevelUnit.
	Rulers []Ruler
	// LevelUnit is what stands behind levels: "dBV", "dB".
	LevelUnit string
}

// SpectrumTrace is the power in bins of equal width, bin k at k times BinHertz. A
// power that is not above 0 is not drawn.
type SpectrumTrace struct {
	Label    string
	BinHertz float64
	Power    []float64 // mean square
}

// The part of a spectrum that is drawn.
const (
	lowestHertz    = 10
	highestHertz   = 24000
	deepestDecibel = 140 // below the highest
)

// SVG writes the plot as an SVG document.
func (p SpectrumPlot) SVG(w io.Writer) error { return writeSVG(w, p) }

// PNG writes the plot as a PNG image of 1440 by 720 pixels.
func (p SpectrumPlot) PNG(w io.Writer) error { return writePNG(w, p) }

// Validate says what cannot be drawn, all of it at once.
func (p SpectrumPlot) Validate() error { return p.check() }

func (p SpectrumPlot) check() error {
	var wrong []error
	if len(p.Spectra) == 0 {
		wrong = append(wrong, errors.New("no spectrum"))
	}
	for _, s := range p.Spectra {
		if !(s.BinHertz > 0) || !drawable(s.BinHertz) {
			wrong = append(wrong, fmt.Errorf("spectrum %q: bins of %v Hz", s.Label, s.BinHertz))
		}
	}
	if len(wrong) == 0 && p.height().empty() {
		wrong = append(wrong, fmt.Errorf("no spectrum has power above %d Hz", lowestHertz))
	}
	for _, r := range p.Rulers {
		if !drawable(r.Volts) {
			wrong = append(wrong, fmt.Errorf("ruler %q: %v", r.Label, r.Volts))
		}
	}
	if err := errors.Join(wrong...); err != nil {
		return fmt.Errorf("plot %q: %w", p.Title, err)
	}
	return nil
}

func (p SpectrumPlot) caption() string {
	var parts []string
	for _, s := range p.Spectra {
		parts = append(parts, s.Label)
	}
	for _, r := range p.Rulers {
		parts = append(parts, r.Label+" "+r.Text)
	}
	return p.Title + ": spectrum of " + strings.Join(parts, ", ")
}

// columns are the points drawn: log10 of the frequency and decibels, the highest
// and the lowest of every stretch of bins that shares a column, so that no line and
// no gap between lines is lost.
func (s SpectrumTrace) columns(wanted int) []xy {
	low := math.Log10(lowestHertz)
	perDecade := float64(wanted) / (math.Log10(highestHertz) - low)
	var points []xy
	column, least, most := -1, xy{}, xy{}
	flush := func() {
		switch {
		case column < 0:
		case least.x < most.x:
			points = append(points, least, most)
		case least.x > most.x:
			points = append(points, most, least)
		default:
			points = append(points, most)
		}
	}
	for k := int(math.Ceil(lowestHertz / s.BinHertz)); k < len(s.Power) && float64(k)*s.BinHertz <= highestHertz; k++ {
		decibels := 10 * math.Log10(s.Power[k])
		if k == 0 || !drawable(decibels) {
			continue
		}
		at := xy{math.Log10(float64(k) * s.BinHertz), decibels}
		if in := int((at.x - low) * perDecade); in != column {
			flush()
			column, least, most = in, at, at
		}
		if at.y < least.y {
			least = at
		}
		if at.y > most.y {
			most = at
		}
	}
	flush()
	return points
}

// height is the range of decibels drawn: from the highest line down, but not below
// what a spectrum can show.
func (p SpectrumPlot) height() span {
	s := newSpan()
	for _, t := range p.Spectra {
		for _, at := range t.columns(500) {
			s.take(at.y)
		}
	}
	if s.empty() {
		return s
	}
	for _, r := range p.Rulers {
		s.take(r.Volts)
	}
	return span{math.Max(s.low, s.high-deepestDecibel), s.high}.padded(0.04)
}

// spectrumTicks are at 1, 2 and 5 of each decade.
func spectrumTicks() plot.ConstantTicks {
	var ticks plot.ConstantTicks
	for _, t := range []struct {
		hertz float64
		label string
	}{{10, "10 Hz"}, {20, "20"}, {50, "50"}, {100, "100"}, {200, "200"}, {500, "500"}, {1000, "1 kHz"},
		{2000, "2"}, {5000, "5"}, {10000, "10"}, {20000, "20 kHz"}} {
		ticks = append(ticks, plot.Tick{Value: math.Log10(t.hertz), Label: t.label})
	}
	return ticks
}

func (p SpectrumPlot) drawOn(sheet draw.Canvas) {
	axes, height := newPaperPlot(), p.height()
	yTicks := decimalTicks(height, 7, p.LevelUnit)
	axes.X.Min, axes.X.Max, axes.X.Tick.Marker = math.Log10(lowestHertz), math.Log10(highestHertz), spectrumTicks()
	axes.Y.Min, axes.Y.Max, axes.Y.Tick.Marker = height.low, height.high, yTicks
	axes.X.Label.Text = "frequency"
	axes.Add(grid{yTicks})
	key, rs := legend{}, rulers{}
	for _, r := range p.Rulers {
		rs = append(rs, ruler{at: math.Max(r.Volts, height.low), text: strings.TrimSpace(r.Label + " " + r.Text), color: seaGreen})
	}
	for i, s := range p.Spectra {
		look := lookOf(i, len(p.Spectra))
		axes.Add(spectrumLine{s, look, height.low})
		key = append(key, legendEntry{s.Label, look})
	}
	axes.Add(rs)
	layOut(sheet, axes, p.Title, key, rs.margin())
}

// spectrumLine draws one spectrum, cut off at the lowest level drawn.
type spectrumLine struct {
	SpectrumTrace
	look  traceLook
	floor float64
}

// Plot draws the line and its marks.
func (s spectrumLine) Plot(c draw.Canvas, p *plot.Plot) {
	toX, toY := p.Transforms(&c)
	at := s.columns(int(2 * c.Size().X))
	points := make([]vg.Point, len(at))
	for i, a := range at {
		points[i] = vg.Point{X: toX(a.x), Y: toY(math.Max(a.y, s.floor))}
	}
	c.StrokeLines(s.look.line, points)
	for _, i := range s.look.marked(len(points)) {
		s.look.drawMark(c, points[i])
	}
}
