package report

import (
	"bytes"
	"fmt"
	"html"
	"image/color"
	"io"
	"math"
	"sort"
	"strings"
	"unicode"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
	"gonum.org/v1/plot/vg/vgsvg"
)

// The colours of the page on light paper.
var (
	paper    = color.NRGBA{0xfa, 0xf7, 0xf0, 0xff}
	ink      = color.NRGBA{0x20, 0x24, 0x2b, 0xff}
	seaGreen = color.NRGBA{0x0b, 0x6e, 0x75, 0xff}
	ochre    = color.NRGBA{0x9a, 0x6a, 0x12, 0xff}
	brick    = color.NRGBA{0xa8, 0x32, 0x1f, 0xff}
	faintInk = color.NRGBA{0xdd, 0xd8, 0xcc, 0xff} // grid
	greyInk  = color.NRGBA{0x6b, 0x6d, 0x70, 0xff} // small print, 4.9:1 on paper
)

// The sheet that a drawing is made on. PNG has two pixels a point.
const (
	sheetWidth  = 720 * vg.Length(1)
	sheetHeight = 360 * vg.Length(1)
	pngDPI      = 144
)

// The parts of the sheet around the axes.
const (
	marginLeft   = 12 * vg.Length(1)
	marginRight  = 24 * vg.Length(1) // without rulers
	widestRuler  = 200 * vg.Length(1)
	marginBottom = 8 * vg.Length(1)
	marginTop    = 10 * vg.Length(1)
	titleHeight  = 22 * vg.Length(1)
	textSize     = 10 * vg.Length(1)
	titleSize    = 13 * vg.Length(1)
)

// sansFont is the family that text is set in; its figures are all of one width.
const sansFont = "Liberation Sans"

// typeStyle is text of a size and colour, its anchor left and in the middle.
func typeStyle(size vg.Length, ink color.Color) text.Style {
	return text.Style{
		Color:   ink,
		Font:    font.From(font.Font{Typeface: "Liberation", Variant: "Sans"}, size),
		XAlign:  text.XLeft,
		YAlign:  text.YCenter,
		Handler: plot.DefaultTextHandler,
	}
}

// drawing is what can be put on a sheet.
type drawing interface {
	// check says why it cannot be drawn.
	check() error
	// caption is the drawing in one sentence, for those who cannot see it.
	caption() string
	drawOn(sheet draw.Canvas)
}

// writeSVG writes a drawing as an SVG document. Text stays text; names in it are
// escaped.
func writeSVG(w io.Writer, d drawing) error {
	document, err := svgSized(d, sheetWidth, sheetHeight)
	if err != nil {
		return err
	}
	if _, err := w.Write(document); err != nil {
		return fmt.Errorf("write SVG: %w", err)
	}
	return nil
}

// svgSized returns a drawing as an SVG document of a size.
func svgSized(d drawing, width, height vg.Length) ([]byte, error) {
	if err := d.check(); err != nil {
		return nil, err
	}
	canvas := vgsvg.New(width, height)
	d.drawOn(draw.New(canvas))
	var document bytes.Buffer
	if _, err := canvas.WriteTo(&document); err != nil {
		return nil, fmt.Errorf("write SVG: %w", err)
	}
	return finishSVG(document.Bytes(), d.caption()), nil
}

// finishSVG takes off what stands before the svg element, so that the document can
// stand in a page as well as alone, gives it a title for screen readers, and its
// text further families to fall back on where ours is not installed.
func finishSVG(document []byte, caption string) []byte {
	_, rest, found := bytes.Cut(document, []byte("<svg "))
	if !found {
		return document
	}
	opening, body, _ := bytes.Cut(rest, []byte(">"))
	body = bytes.ReplaceAll(body,
		[]byte(`style="font-family:`+sansFont+";"),
		[]byte(`style="font-family:'`+sansFont+"',Arial,Helvetica,sans-serif;"))
	title := "<title>" + html.EscapeString(cleanLabel(caption)) + "</title>"
	return bytes.Join([][]byte{[]byte(`<svg role="img" `), opening, []byte(">" + title), body}, nil)
}

// writePNG writes a drawing as a PNG of 1440 by 720 pixels.
func writePNG(w io.Writer, d drawing) error {
	if err := d.check(); err != nil {
		return err
	}
	canvas := vgimg.NewWith(vgimg.UseWH(sheetWidth, sheetHeight), vgimg.UseDPI(pngDPI), vgimg.UseBackgroundColor(paper))
	d.drawOn(draw.New(canvas))
	if _, err := (vgimg.PngCanvas{Canvas: canvas}).WriteTo(w); err != nil {
		return fmt.Errorf("write PNG: %w", err)
	}
	return nil
}

// cleanLabel makes one printable line of a name: XML has no place for control
// characters, and a drawing none for line breaks.
func cleanLabel(name string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\n' || r == '\r' || r == '\t':
			return ' '
		case !unicode.IsPrint(r):
			return unicode.ReplacementChar
		}
		return r
	}, strings.ToValidUTF8(name, "\uFFFD"))
}

// fitLabel cuts a name to a width, with an ellipsis. What is longer than any width
// is cut beforehand, so that a huge name costs no more than a long one.
func fitLabel(style text.Style, name string, width vg.Length) string {
	const longest = 400
	runes := []rune(cleanLabel(name))
	if len(runes) <= longest && style.Width(string(runes)) <= width {
		return string(runes)
	}
	runes = runes[:min(len(runes), longest)]
	fits := sort.Search(len(runes), func(n int) bool {
		return style.Width(string(runes[:n+1])+"…") > width
	})
	return string(runes[:fits]) + "…"
}

// newPaperPlot returns axes in the page's look, without data.
func newPaperPlot() *plot.Plot {
	p := plot.New()
	p.BackgroundColor = nil
	for _, axis := range []*plot.Axis{&p.X, &p.Y} {
		axis.Color, axis.Tick.Color = greyInk, greyInk
		axis.Padding = 0
		axis.Tick.Length = 4
		axis.Tick.Label = plotTextLike(axis.Tick.Label, textSize, ink)
		axis.Label.TextStyle = plotTextLike(axis.Label.TextStyle, textSize, greyInk)
		axis.Label.Padding = 4
	}
	return p
}

// plotTextLike is a text style of ours with the anchors of another.
func plotTextLike(like text.Style, size vg.Length, ink color.Color) text.Style {
	style := typeStyle(size, ink)
	style.XAlign, style.YAlign, style.Rotation = like.XAlign, like.YAlign, like.Rotation
	return style
}

// fillRectangle fills the rectangle between two corners.
func fillRectangle(c draw.Canvas, fill color.Color, x0, y0, x1, y1 vg.Length) {
	c.FillPolygon(fill, []vg.Point{{X: x0, Y: y0}, {X: x1, Y: y0}, {X: x1, Y: y1}, {X: x0, Y: y1}})
}

// pen is a line of a colour and width, whole or dashed.
func pen(ink color.Color, width vg.Length, dashes ...vg.Length) draw.LineStyle {
	return draw.LineStyle{Color: ink, Width: width, Dashes: dashes}
}

// drawable tells whether v is a figure that has a place on an axis: it is one, and
// nothing that would run out of range on the way to a place.
func drawable(v float64) bool { return math.Abs(v) <= 1e30 }
