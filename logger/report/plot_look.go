package report

import (
	"image/color"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// traceLook is how a line is drawn: its stroke, and a mark on it every so often
// where several lines are laid over one another.
type traceLook struct {
	line draw.LineStyle
	mark draw.GlyphDrawer // nil for none
	// at is where the marks begin, as a share of their distance, so that those of
	// different lines do not fall on one another.
	at float64
}

// lineLook is a plain stroke.
func lineLook(ink color.Color, width vg.Length) traceLook {
	return traceLook{line: pen(ink, width)}
}

// lookOf tells overlaid records apart without colours that mean something else:
// by strength of ink and by marks. Dashes would drown in the noise of a record.
// Looks repeat after ten.
func lookOf(i, of int) traceLook {
	shades := []color.NRGBA{ink, {0x7d, 0x82, 0x8a, 0xff}}
	marks := []draw.GlyphDrawer{draw.RingGlyph{}, draw.SquareGlyph{}, draw.TriangleGlyph{}, draw.CrossGlyph{}, draw.PlusGlyph{}}
	look := lineLook(shades[i%len(shades)], 1)
	if of > 1 {
		look.mark = marks[i%len(marks)]
		look.at = (float64(i) + 0.5) / float64(of)
	}
	return look
}

// marked are the indices of the samples of a record that carry a mark.
func (l traceLook) marked(samples int) []int {
	if l.mark == nil {
		return nil
	}
	const marks = 6
	var indices []int
	for k := range marks {
		indices = append(indices, int((float64(k)+l.at)/marks*float64(samples)))
	}
	return indices
}

// drawMark draws the look's mark on a disc of paper, so that it stands out from
// the line it marks.
func (l traceLook) drawMark(c draw.Canvas, at vg.Point) {
	if l.mark == nil {
		return
	}
	const radius = 3
	c.DrawGlyph(draw.GlyphStyle{Color: paper, Radius: radius + 1, Shape: draw.CircleGlyph{}}, at)
	c.DrawGlyph(draw.GlyphStyle{Color: l.line.Color, Radius: radius, Shape: l.mark}, at)
}
