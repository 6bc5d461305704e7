package report

import (
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Trace is one record to draw: samples IntervalSeconds apart, the first at
// StartSeconds. A sample that is not finite is a gap in the line.
type Trace struct {
	Label           string
	StartSeconds    float64
	IntervalSeconds float64
	Volts           []float64
}

// endSeconds is when the last sample was taken.
func (t Trace) endSeconds() float64 {
	return t.StartSeconds + float64(len(t.Volts)-1)*t.IntervalSeconds
}

// runs parts the trace into runs of points without a gap, x in seconds. Where
// there are many more samples than columns, each column keeps its first, lowest,
// highest and last sample in the order of time, so that no peak is lost.
func (t Trace) runs(columns int) [][]xy {
	perColumn := max(1, len(t.Volts)/columns)
	if perColumn <= 4 {
		perColumn = 1
	}
	var runs [][]xy
	var run []xy
	for from := 0; from < len(t.Volts); from += perColumn {
		for _, i := range keptSamples(t.Volts, from, min(from+perColumn, len(t.Volts))) {
			v := t.Volts[i]
			if !drawable(v) {
				if len(run) > 0 {
					runs, run = append(runs, run), nil
				}
				continue
			}
			run = append(run, xy{t.StartSeconds + float64(i)*t.IntervalSeconds, v})
		}
	}
	if len(run) > 0 {
		runs = append(runs, run)
	}
	return runs
}

type xy struct{ x, y float64 }

// keptSamples are the indices from from to to (not included) that a column keeps,
// rising. A gap is kept as its first sample.
func keptSamples(volts []float64, from, to int) []int {
	if to-from <= 1 {
		return []int{from}
	}
	low, high, gap := -1, -1, -1
	for i := from; i < to; i++ {
		switch v := volts[i]; {
		case !drawable(v):
			if gap < 0 {
				gap = i
			}
		case low < 0:
			low, high = i, i
		case v < volts[low]:
			low = i
		case v > volts[high]:
			high = i
		}
	}
	kept := make([]int, 0, 5)
	for i := from; i < to; i++ {
		if i == from || i == to-1 || i == low || i == high || i == gap {
			kept = append(kept, i)
		}
	}
	return kept
}

// tracePlotter draws a trace; xPerSecond turns its times into the axis's unit.
type tracePlotter struct {
	Trace
	look       traceLook
	xPerSecond float64
}

// Plot draws the trace's runs; a run of one sample is a dot.
func (t tracePlotter) Plot(c draw.Canvas, p *plot.Plot) {
	toX, toY := p.Transforms(&c)
	place := func(at xy) vg.Point { return vg.Point{X: toX(at.x * t.xPerSecond), Y: toY(at.y)} }
	for _, run := range t.runs(int(2 * c.Size().X)) {
		points := make([]vg.Point, len(run))
		for i, at := range run {
			points[i] = place(at)
		}
		if len(points) == 1 {
			c.DrawGlyph(draw.GlyphStyle{Color: t.look.line.Color, Radius: 1, Shape: draw.CircleGlyph{}}, points[0])
			continue
		}
		c.StrokeLines(t.look.line, points)
	}
	for _, i := range t.look.marked(len(t.Volts)) {
		if v := t.Volts[i]; drawable(v) {
			t.look.drawMark(c, place(xy{t.StartSeconds + float64(i)*t.IntervalSeconds, v}))
		}
	}
}

// timeUnit is the unit that suits a length of time, and how many of it are in a
// second.
func timeUnit(seconds float64) (name string, perSecond float64) {
	switch s := math.Abs(seconds); {
	case s < 2e-6:
		return "ns", 1e9
	case s < 2e-3:
		return "µs", 1e6
	case s < 2:
		return "ms", 1e3
	default:
		return "s", 1
	}
}
