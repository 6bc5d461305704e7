package report

import (
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// legendEntry is a name and the line that stands for it, with its mark.
type legendEntry struct {
	name string
	look traceLook
}

// legend names the lines of a drawing in rows above it.
type legend []legendEntry

// draw puts the entries into rows from left to right and returns the height that
// they take.
func (l legend) draw(c draw.Canvas, left, right, top vg.Length) (height vg.Length) {
	if len(l) == 0 {
		return 0
	}
	const sample, gap, between, row = 24, 5, 16, 15
	style := typeStyle(textSize, ink)
	x, y := left, top-row/2
	for _, entry := range l {
		name := fitLabel(style, entry.name, right-left-sample-gap)
		width := sample + gap + style.Width(name)
		if x > left && x+width > right {
			x, y = left, y-row
		}
		c.StrokeLine2(entry.look.line, x, y, x+sample, y)
		entry.look.drawMark(c, vg.Point{X: x + sample/2, Y: y})
		c.FillText(style, vg.Point{X: x + sample + gap, Y: y}, name)
		x += width + between
	}
	return top - y + row
}
