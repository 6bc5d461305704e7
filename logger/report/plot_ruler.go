package report

import (
	"cmp"
	"image/color"
	"slices"
	"strconv"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// ruler is a level across a drawing, with its figure at the right edge.
type ruler struct {
	at    float64
	text  string
	color color.Color
}

// rulers draws rulers and keeps their figures apart.
type rulers []ruler

// A lead runs from a ruler's end to its figure, then comes a gap.
const (
	rulerLead = 10 * vg.Length(1)
	rulerGap  = 3 * vg.Length(1)
)

// margin is the room that the figures take at the right of the axes.
func (rs rulers) margin() vg.Length {
	margin := marginRight
	for _, r := range rs {
		style := typeStyle(textSize, r.color)
		text := style.Width(fitLabel(style, r.text, widestRuler))
		margin = max(margin, rulerLead+rulerGap+text+marginLeft)
	}
	return margin
}

// Plot draws each ruler, a lead to its figure and the figure.
func (rs rulers) Plot(c draw.Canvas, p *plot.Plot) {
	_, toY := p.Transforms(&c)
	sorted := slices.Clone(rs)
	slices.SortStableFunc(sorted, func(a, b ruler) int { return cmp.Compare(a.at, b.at) })
	places := make([]vg.Length, len(sorted))
	for i, r := range sorted {
		places[i] = toY(r.at)
	}
	spread(places, c.Min.Y, c.Max.Y, textSize*1.25)
	for i, r := range sorted {
		y, style := toY(r.at), typeStyle(textSize, r.color)
		c.StrokeLine2(pen(r.color, 1), c.Min.X, y, c.Max.X, y)
		c.StrokeLine2(pen(r.color, 0.5), c.Max.X, y, c.Max.X+rulerLead, places[i])
		c.FillText(style, vg.Point{X: c.Max.X + rulerLead + rulerGap, Y: places[i]}, fitLabel(style, r.text, widestRuler))
	}
}

// spread moves rising places apart to at least the distance, or as far as they
// fit between low and high.
func spread(places []vg.Length, low, high, distance vg.Length) {
	if len(places) == 0 {
		return
	}
	if len(places) > 1 {
		distance = min(distance, (high-low)/vg.Length(len(places)-1))
	}
	for i := range places {
		floor := low + vg.Length(i)*distance
		if i > 0 {
			floor = max(floor, places[i-1]+distance)
		}
		places[i] = max(places[i], floor)
	}
	for i := len(places) - 1; i >= 0; i-- {
		ceiling := high - vg.Length(len(places)-1-i)*distance
		if i < len(places)-1 {
			ceiling = min(ceiling, places[i+1]-distance)
		}
		places[i] = min(places[i], ceiling)
	}
}

// figureText is a figure with the decimals that suit the height of a drawing:
// about a thousandth of it.
func figureText(v float64, s span, unit string) string {
	decimals := 0
	for width := s.high - s.low; width < 300 && decimals < 9; width *= 10 {
		decimals++
	}
	text := strconv.FormatFloat(v, 'f', decimals, 64)
	if unit != "" {
		text += " " + cleanLabel(unit)
	}
	return text
}
