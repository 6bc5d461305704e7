package report

import (
	"cmp"
	"image/color"
	"slices"
	"time"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// guardTint is ochre so thin that ink on it stays readable.
var guardTint = color.NRGBA{0xef, 0xe2, 0xc6, 0xff}

// gapPen draws the edges of a gap.
var gapPen = pen(greyInk, 1, 1.5, 2)

// across places a moment on the time axis, kept within the soak.
func (p SoakPlot) across(c draw.Canvas, axes *plot.Plot, at time.Time) vg.Length {
	toX, _ := axes.Transforms(&c)
	return min(max(toX(at.Sub(p.Begin).Seconds()), c.Min.X), c.Max.X)
}

// guardBands tints the guard band inside each limit.
type guardBands struct{ SoakPlot }

// Plot draws the bands.
func (g guardBands) Plot(c draw.Canvas, axes *plot.Plot) {
	if g.GuardWidth == 0 {
		return
	}
	_, toY := axes.Transforms(&c)
	if drawable(g.Low) {
		fillRectangle(c, guardTint, c.Min.X, toY(g.Low), c.Max.X, toY(min(g.Low+g.GuardWidth, g.High)))
	}
	if drawable(g.High) {
		fillRectangle(c, guardTint, c.Min.X, toY(max(g.High-g.GuardWidth, g.Low)), c.Max.X, toY(g.High))
	}
}

// gapMarks clears the paper where there were no readings and dots its edges.
type gapMarks struct{ SoakPlot }

// Plot draws the gaps.
func (g gapMarks) Plot(c draw.Canvas, axes *plot.Plot) {
	for _, gap := range g.Gaps {
		from, to := g.across(c, axes, gap.From), g.across(c, axes, gap.To)
		fillRectangle(c, paper, from, c.Min.Y, to, c.Max.Y)
		c.StrokeLine2(gapPen, from, c.Min.Y, from, c.Max.Y)
		c.StrokeLine2(gapPen, to, c.Min.Y, to, c.Max.Y)
	}
}

// unwritten hatches what the soak has not come to yet.
type unwritten struct{ SoakPlot }

// Plot draws the hatch.
func (u unwritten) Plot(c draw.Canvas, axes *plot.Plot) {
	if !u.written().Before(u.End) {
		return
	}
	from := u.across(c, axes, u.written())
	fillRectangle(c, paper, from, c.Min.Y, c.Max.X, c.Max.Y)
	height := c.Max.Y - c.Min.Y
	const apart = 8
	var hatch [][]vg.Point
	for x := from - height; x < c.Max.X; x += apart {
		hatch = append(hatch, []vg.Point{{X: x, Y: c.Min.Y}, {X: x + height, Y: c.Max.Y}})
	}
	part := draw.Canvas{Canvas: c.Canvas, Rectangle: vg.Rectangle{Min: vg.Point{X: from, Y: c.Min.Y}, Max: c.Max}}
	c.StrokeLines(pen(greyInk, 0.4), part.ClipLinesXY(hatch...)...)
}

// envelope fills the readings between lowest and highest.
type envelope struct{ SoakPlot }

// Plot draws the envelope run by run. The fill alone would be thinner than a
// hair where all readings were alike, so both its edges are drawn as well.
func (e envelope) Plot(c draw.Canvas, axes *plot.Plot) {
	_, toY := axes.Transforms(&c)
	for _, run := range e.runs() {
		var top, bottom []vg.Point
		for _, point := range run {
			x := e.across(c, axes, point.At)
			top = append(top, vg.Point{X: x, Y: toY(point.High)})
			bottom = append(bottom, vg.Point{X: x, Y: toY(point.Low)})
		}
		if len(run) == 1 {
			c.StrokeLine2(pen(seaGreen, 1), bottom[0].X, bottom[0].Y-0.5, top[0].X, top[0].Y+0.5)
			continue
		}
		outline := slices.Clone(bottom)
		slices.Reverse(outline)
		c.FillPolygon(seaGreen, append(slices.Clone(top), outline...))
		c.StrokeLines(pen(seaGreen, 1), top, bottom)
	}
}

// runs parts the envelope where there were no readings or a gap lies between.
func (p SoakPlot) runs() [][]EnvelopePoint {
	var runs [][]EnvelopePoint
	var run []EnvelopePoint
	gaps := slices.Clone(p.Gaps)
	slices.SortFunc(gaps, func(a, b PlotInterval) int { return a.From.Compare(b.From) })
	next := 0
	for _, point := range p.Envelope {
		if point.At.Before(p.Begin) || point.At.After(p.End) {
			continue
		}
		for next < len(gaps) && !gaps[next].To.After(point.At) {
			if len(run) > 0 && gaps[next].To.After(run[len(run)-1].At) {
				runs, run = append(runs, run), nil
			}
			next++
		}
		if !drawable(point.Low) || !drawable(point.High) {
			if len(run) > 0 {
				runs, run = append(runs, run), nil
			}
			continue
		}
		run = append(run, point)
	}
	if len(run) > 0 {
		runs = append(runs, run)
	}
	return runs
}

// excursionMarks marks the time outside along the lower edge, and the worst figure
// of each excursion while there is room for it.
type excursionMarks struct{ SoakPlot }

// Plot draws the marks, the worst excursions first so that their figures stay.
func (e excursionMarks) Plot(c draw.Canvas, axes *plot.Plot) {
	_, toY := axes.Transforms(&c)
	sorted := slices.Clone(e.Excursions)
	slices.SortStableFunc(sorted, func(a, b ExcursionMark) int { return cmp.Compare(e.out(b), e.out(a)) })
	var taken []vg.Rectangle
	for _, x := range sorted {
		mark := color.Color(brick)
		if x.Borderline {
			mark = ochre
		}
		from, to := e.across(c, axes, x.From), e.across(c, axes, x.To)
		if x.To.IsZero() {
			to = e.across(c, axes, e.written())
		}
		const thickness, least = 5, 2
		to = max(to, from+least)
		fillRectangle(c, mark, from, c.Min.Y, to, c.Min.Y+thickness)
		at := vg.Point{X: (from + to) / 2, Y: toY(x.Worst)}
		c.StrokeLine2(pen(mark, 1.5), at.X-5, at.Y, at.X+5, at.Y)
		up := x.Worst-e.High > e.Low-x.Worst
		taken = e.figureAt(c, at, mark, up, e.figure(x.Worst), taken)
	}
}

// out is how far an excursion went beyond the nearer limit.
func (p SoakPlot) out(x ExcursionMark) float64 {
	return max(p.Low-x.Worst, x.Worst-p.High)
}

// figureAt writes a figure beyond a mark, on the side away from the limits, unless
// another one is there already; on paper, so that it can be read over what is there.
func (e excursionMarks) figureAt(c draw.Canvas, at vg.Point, mark color.Color, up bool, figure string, taken []vg.Rectangle) []vg.Rectangle {
	style := typeStyle(textSize, mark)
	figure = fitLabel(style, figure, widestRuler)
	const away, half = textSize * 0.95, textSize * 0.6
	width := style.Width(figure)
	left := min(max(at.X-width/2, c.Min.X), c.Max.X-width)
	y := at.Y - away
	if up {
		y = at.Y + away
	}
	y = min(max(y, c.Min.Y+half), c.Max.Y-half)
	box := vg.Rectangle{Min: vg.Point{X: left - 2, Y: y - half}, Max: vg.Point{X: left + width + 2, Y: y + half}}
	for _, other := range taken {
		if box.Min.X < other.Max.X && other.Min.X < box.Max.X && box.Min.Y < other.Max.Y && other.Min.Y < box.Max.Y {
			return taken
		}
	}
	fillRectangle(c, paper, box.Min.X, box.Min.Y, box.Max.X, box.Max.Y)
	c.FillText(style, vg.Point{X: left, Y: y}, figure)
	return append(taken, box)
}
