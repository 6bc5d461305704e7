package report

import (
	"image/color"
	"strings"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"soakline/checks"
)

// verdictMark draws a verdict as the bracket draws a figure: a pass stands inside, a
// fail has left it and is set in reverse, and what is undecided stands across its
// edge.
type verdictMark struct{ checks.Outcome }

func (v verdictMark) check() error { return nil }

func (v verdictMark) caption() string { return string(v.Outcome) }

func (v verdictMark) word() string { return strings.ToUpper(string(v.Outcome)) }

// drawOn fills the canvas.
func (v verdictMark) drawOn(c draw.Canvas) {
	width, height := c.Max.X-c.Min.X, c.Max.Y-c.Min.Y
	bottom, top := c.Min.Y+height*0.06, c.Max.Y-height*0.06
	left, right := c.Min.X+width*0.02, c.Max.X-width*0.02
	word, colour := left+width*0.08, color.Color(ink)
	size := height * 0.5
	switch v.Outcome {
	case checks.Fail:
		right = c.Min.X + width*0.42
		word, colour = right+width*0.08, paper
	case checks.Undecided:
		right = c.Min.X + width*0.8
		size = height * 0.36
		word, colour = left+width*0.07, ochre
	}
	style := typeStyle(size, colour)
	length := style.Width(v.word())
	if v.Outcome == checks.Pass {
		word = (left + right - length) / 2
	}
	if v.Outcome == checks.Fail {
		pad := height * 0.12
		fillRectangle(c, brick, word-pad, bottom+height*0.1, word+length+pad, top-height*0.1)
	}
	foot := height * 0.16
	line := pen(ink, height*0.045)
	for _, end := range []struct{ x, foot vg.Length }{{left, foot}, {right, -foot}} {
		c.StrokeLines(line, []vg.Point{{X: end.x + end.foot, Y: top}, {X: end.x, Y: top}, {X: end.x, Y: bottom}, {X: end.x + end.foot, Y: bottom}})
	}
	c.FillText(style, vg.Point{X: word, Y: (bottom+top)/2 + size*0.07}, v.word())
}
