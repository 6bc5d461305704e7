package report

import (
	"image"
	"image/color"
	"math"

	"codeberg.org/go-pdf/fpdf"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// pdfCanvas draws on a part of a page, so that one drawing serves every format. The
// page is measured in points from its top left corner, a drawing in points from its
// bottom left one.
type pdfCanvas struct {
	doc *fpdf.Fpdf
	// place maps a drawing's points to the page's.
	place transform
	kept  []transform
	// scale is how much smaller or larger than itself the drawing is.
	scale float64
	width vg.Length
}

// transform maps (x, y) to (a x + c y + e, b x + d y + f).
type transform struct{ a, b, c, d, e, f float64 }

func (t transform) of(p vg.Point) (x, y float64) {
	px, py := float64(p.X), float64(p.Y)
	return t.a*px + t.c*py + t.e, t.b*px + t.d*py + t.f
}

// after is first the other transform, then t.
func (t transform) after(o transform) transform {
	return transform{
		t.a*o.a + t.c*o.b, t.b*o.a + t.d*o.b, t.a*o.c + t.c*o.d, t.b*o.c + t.d*o.d,
		t.a*o.e + t.c*o.f + t.e, t.b*o.e + t.d*o.f + t.f,
	}
}

// drawAt draws with the top left corner at x, y of the page. The drawing believes
// that it has a sheet of width by height points, which is shown wide points wide.
func drawAt(doc *fpdf.Fpdf, d drawing, x, y, wide float64, width, height vg.Length) error {
	if err := d.check(); err != nil {
		return err
	}
	scale := wide / float64(width)
	c := &pdfCanvas{doc: doc, scale: scale, place: transform{scale, 0, 0, -scale, x, y + scale*float64(height)}}
	vg.Initialize(c)
	d.drawOn(draw.NewCanvas(c, width, height))
	doc.SetDashPattern(nil, 0)
	return nil
}

// SetLineWidth sets how wide lines are.
func (c *pdfCanvas) SetLineWidth(w vg.Length) {
	c.width = w
	c.doc.SetLineWidth(float64(w) * c.scale)
}

// SetLineDash sets the dashes of lines.
func (c *pdfCanvas) SetLineDash(pattern []vg.Length, offset vg.Length) {
	dashes := make([]float64, len(pattern))
	for i, d := range pattern {
		dashes[i] = float64(d) * c.scale
	}
	c.doc.SetDashPattern(dashes, float64(offset)*c.scale)
}

// SetColor sets the colour of lines, areas and text; nil is black.
func (c *pdfCanvas) SetColor(colour color.Color) { setColour(c.doc, colour) }

func setColour(doc *fpdf.Fpdf, colour color.Color) {
	if colour == nil {
		colour = color.Black
	}
	opaque := color.NRGBAModel.Convert(colour).(color.NRGBA)
	r, g, b := int(opaque.R), int(opaque.G), int(opaque.B)
	doc.SetFillColor(r, g, b)
	doc.SetDrawColor(r, g, b)
	doc.SetTextColor(r, g, b)
}

// Rotate turns what is drawn from now on, in radians.
func (c *pdfCanvas) Rotate(rad float64) {
	sin, cos := math.Sincos(rad)
	c.place = c.place.after(transform{cos, sin, -sin, cos, 0, 0})
}

// Translate moves what is drawn from now on.
func (c *pdfCanvas) Translate(p vg.Point) {
	c.place = c.place.after(transform{1, 0, 0, 1, float64(p.X), float64(p.Y)})
}

// Scale stretches what is drawn from now on.
func (c *pdfCanvas) Scale(x, y float64) { c.place = c.place.after(transform{x, 0, 0, y, 0, 0}) }

// Push keeps the place for Pop; whoever draws sets line and colour each time.
func (c *pdfCanvas) Push() { c.kept = append(c.kept, c.place) }

// Pop goes back to the place that Push kept.
func (c *pdfCanvas) Pop() {
	c.place, c.kept = c.kept[len(c.kept)-1], c.kept[:len(c.kept)-1]
}

// Stroke draws a path as a line.
func (c *pdfCanvas) Stroke(p vg.Path) {
	if c.width > 0 {
		c.path(p, "D")
	}
}

// Fill fills a path.
func (c *pdfCanvas) Fill(p vg.Path) { c.path(p, "F") }

func (c *pdfCanvas) path(p vg.Path, style string) {
	for _, part := range p {
		switch part.Type {
		case vg.MoveComp:
			c.doc.MoveTo(c.place.of(part.Pos))
		case vg.LineComp:
			c.doc.LineTo(c.place.of(part.Pos))
		case vg.ArcComp:
			c.arc(part)
		case vg.CurveComp:
			c.curve(part)
		case vg.CloseComp:
			c.doc.ClosePath()
		}
	}
	c.doc.DrawPath(style)
}

// arc draws an arc as short lines: those of our drawings are marks of a few points.
func (c *pdfCanvas) arc(part vg.PathComp) {
	const steps = 24
	for i := range steps + 1 {
		sin, cos := math.Sincos(part.Start + part.Angle*float64(i)/steps)
		x, y := c.place.of(vg.Point{X: part.Pos.X + part.Radius*vg.Length(cos), Y: part.Pos.Y + part.Radius*vg.Length(sin)})
		c.doc.LineTo(x, y)
	}
}

// curve draws a Bézier curve with one or two control points.
func (c *pdfCanvas) curve(part vg.PathComp) {
	x, y := c.place.of(part.Pos)
	x0, y0 := c.place.of(part.Control[0])
	x1, y1 := c.place.of(part.Control[len(part.Control)-1])
	c.doc.CurveBezierCubicTo(x0, y0, x1, y1, x, y)
}

// FillString writes a text with its baseline's begin at p.
func (c *pdfCanvas) FillString(f font.Face, p vg.Point, text string) {
	size := float64(f.Font.Size) * c.scale
	if size == 0 {
		return
	}
	x, y := c.place.of(p)
	c.doc.SetFont(pdfFamily, "", size)
	angle := math.Atan2(-c.place.b, c.place.a) * 180 / math.Pi
	c.doc.TransformBegin()
	c.doc.TransformRotate(angle, x, y)
	c.doc.Text(x, y, pdfText(text))
	c.doc.TransformEnd()
}

// DrawImage draws nothing: no drawing of ours has an image in it.
func (c *pdfCanvas) DrawImage(vg.Rectangle, image.Image) {}
