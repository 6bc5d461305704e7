package report

import (
	"bytes"
	"fmt"
	"image/color"
	"io"
	"strings"
	"time"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"codeberg.org/go-pdf/fpdf"
	"gonum.org/v1/plot/vg"
)

// pdfFamily is the family that all text is set in; it is embedded.
const pdfFamily = "sans"

// pdfText is a text as the document can hold it: one line, with the letters of the
// first plane of Unicode, which is as far as its fonts go.
func pdfText(text string) string {
	return strings.Map(func(r rune) rune {
		if r > 0xffff {
			return '\uFFFD'
		}
		return r
	}, cleanLabel(text))
}

// newPDF returns an empty document that is the same bytes for the same content.
func newPDF(width, height float64, title, program string, written time.Time) *fpdf.Fpdf {
	doc := fpdf.NewCustom(&fpdf.InitType{UnitStr: "pt", Size: fpdf.SizeType{Wd: width, Ht: height}})
	doc.AddUTF8FontFromBytes(pdfFamily, "", liberationsansregular.TTF)
	doc.AddUTF8FontFromBytes(pdfFamily, "B", liberationsansbold.TTF)
	doc.SetCatalogSort(true)
	doc.SetCreationDate(written.UTC())
	doc.SetModificationDate(written.UTC())
	doc.SetProducer(pdfText(program), true)
	doc.SetTitle(pdfText(title), true)
	doc.SetAutoPageBreak(false, 0)
	doc.SetMargins(0, 0, 0)
	doc.SetCellMargin(0)
	return doc
}

// finishPDF writes a document out.
func finishPDF(doc *fpdf.Fpdf, w io.Writer) error {
	var document bytes.Buffer
	if err := doc.Output(&document); err != nil {
		return fmt.Errorf("make the PDF: %w", err)
	}
	if _, err := w.Write(document.Bytes()); err != nil {
		return fmt.Errorf("write the PDF: %w", err)
	}
	return nil
}

// pdfPaper sets a document of A4 pages from top to bottom. What is used of their height
// lies on the shorter Letter as well, wherever a printer that does not scale lays that:
// at the top, in the middle or at the bottom, with 14 points that it cannot print on.
type pdfPaper struct {
	doc *fpdf.Fpdf
	y   float64
	err error
}

// The paper in points.
const (
	a4Width, a4Height = 595.28, 841.89
	paperLeft         = 42.0
	paperWide         = a4Width - 2*paperLeft
	letterHeight      = 792.0
	unprinted         = 14.0
	paperTop          = a4Height - letterHeight + unprinted
	paperBottom       = letterHeight - unprinted - footHeight
	footHeight        = 13.0
	smallPrint        = 8.0
	bodyPrint         = 9.5
)

// need begins a new page where the rest of this one is too short.
func (p *pdfPaper) need(height float64) {
	if p.y+height > paperBottom {
		p.doc.AddPage()
		p.y = paperTop
	}
}

// text writes one line with its top at y; what is too wide is cut.
func (p *pdfPaper) text(x, y, size float64, style string, colour color.Color, wide float64, text string) {
	setColour(p.doc, colour)
	p.doc.SetFont(pdfFamily, style, size)
	text = pdfText(text)
	for runes := []rune(text); p.doc.GetStringWidth(text) > wide && len(runes) > 1; {
		runes = runes[:len(runes)-1]
		text = string(runes) + "…"
	}
	p.doc.Text(x, y+0.8*size, text)
}

// right writes one line that ends at x and is at most wide.
func (p *pdfPaper) right(x, y, size float64, style string, colour color.Color, wide float64, text string) {
	p.doc.SetFont(pdfFamily, style, size)
	p.text(x-min(p.doc.GetStringWidth(pdfText(text)), wide), y, size, style, colour, wide, text)
}

// paragraph writes a text in as many lines as it needs.
func (p *pdfPaper) paragraph(size float64, colour color.Color, text string) {
	p.paragraphAt(paperLeft, paperWide, size, colour, text)
}

func (p *pdfPaper) paragraphAt(x, wide, size float64, colour color.Color, text string) {
	p.doc.SetFont(pdfFamily, "", size)
	for _, line := range p.doc.SplitText(pdfText(text), wide) {
		p.need(1.35 * size)
		p.text(x, p.y, size, "", colour, wide+size, line)
		p.y += 1.35 * size
	}
}

// heading begins a section that has at least some height.
func (p *pdfPaper) heading(text string, least float64) {
	p.need(26 + least)
	p.y += 12
	p.text(paperLeft, p.y, 11, "B", ink, paperWide, text)
	p.y += 15
}

// draw puts a drawing across the page.
func (p *pdfPaper) draw(d drawing, width, height vg.Length) {
	tall := float64(height) / float64(width) * paperWide
	p.need(tall + 6)
	p.drawIn(d, paperLeft, p.y, paperWide, width, height)
	p.y += tall + 6
}

// drawIn puts a drawing anywhere; the first error is kept.
func (p *pdfPaper) drawIn(d drawing, x, y, wide float64, width, height vg.Length) {
	if err := drawAt(p.doc, d, x, y, wide, width, height); err != nil && p.err == nil {
		p.err = err
	}
}

// column is a column of a table.
type column struct {
	head  string
	wide  float64
	right bool
}

// row writes a row of cells and returns its top.
func (p *pdfPaper) row(columns []column, style string, colour color.Color, cells ...string) float64 {
	const height = smallPrint * 1.75
	p.need(height)
	x, top := paperLeft, p.y
	for i, c := range columns {
		if c.right {
			p.right(x+c.wide-6, top+2, smallPrint, style, colour, c.wide-6, cells[i])
		} else {
			p.text(x, top+2, smallPrint, style, colour, c.wide-6, cells[i])
		}
		x += c.wide
	}
	p.y += height
	return top
}

// rule draws a line across the page.
func (p *pdfPaper) rule(colour color.Color) {
	setColour(p.doc, colour)
	p.doc.SetLineWidth(0.5)
	p.doc.Line(paperLeft, p.y, paperLeft+paperWide, p.y)
	p.y += 2
}

// head writes the heads of a table's columns.
func (p *pdfPaper) head(columns []column) {
	cells := make([]string, len(columns))
	for i, c := range columns {
		cells[i] = c.head
	}
	p.row(columns, "", greyInk, cells...)
	p.rule(faintInk)
}
