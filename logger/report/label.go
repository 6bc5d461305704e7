package report

import (
	"image/color"
	"io"
	"strings"

	"soakline/checks"
)

// A label is 62 by 29 mm, in points.
const (
	millimetre  = 72 / 25.4
	labelWidth  = 62 * millimetre
	labelHeight = 29 * millimetre
)

// LabelPDF writes a label to stick on the unit: asset number, verdict, day, and a
// code that finds the record. It is black on white, for label printers.
func (c Certificate) LabelPDF(w io.Writer) error {
	code, err := newCode(c.Identity)
	if err != nil {
		return err
	}
	doc := newPDF(labelWidth, labelHeight, c.Unit+" "+string(c.Outcome), c.Program, c.Written)
	doc.AddPage()
	p := &pdfPaper{doc: doc}
	const margin = 2 * millimetre
	const codeSide = labelHeight - 2*margin
	const left, wide = margin, labelWidth - codeSide - 2.5*margin
	p.drawIn(code, labelWidth-margin-codeSide, margin, codeSide, 100, 100)
	p.text(left, 2.4*millimetre, p.fitting(17, wide, c.Unit), "B", color.Black, wide, c.Unit)
	p.text(left, 9.3*millimetre, 7.5, "", color.Black, wide, c.Console)
	p.labelVerdict(left, 13.2*millimetre, wide, c.Outcome)
	p.text(left, 21.2*millimetre, 7.5, "", color.Black, wide, c.Given.In(c.zone).Format("2 Jan 2006")+"  "+c.Bench)
	p.text(left, 24.6*millimetre, 5.5, "", color.Black, wide, "chain "+c.Chain.Text())
	if p.err != nil {
		return p.err
	}
	return finishPDF(doc, w)
}

// fitting is a size, as large as may be, at which a text is not cut; 7 at least.
func (p *pdfPaper) fitting(size, wide float64, text string) float64 {
	for ; size > 7; size -= 0.5 {
		p.doc.SetFont(pdfFamily, "B", size)
		if p.doc.GetStringWidth(pdfText(text)) <= wide {
			break
		}
	}
	return size
}

// labelVerdict writes a verdict in the bracket: a fail stands outside of it and is
// set in reverse.
func (p *pdfPaper) labelVerdict(x, y, wide float64, outcome checks.Outcome) {
	const tall, size, foot = 6.6 * millimetre, 13.0, 4.0
	word := strings.ToUpper(string(outcome))
	p.doc.SetFont(pdfFamily, "B", size)
	length := p.doc.GetStringWidth(word)
	right, at, colour := x+length+16, x+8, color.Color(color.Black)
	setColour(p.doc, color.Black)
	switch outcome {
	case checks.Fail:
		right, colour = x+18, color.White
		at = right + 9
		p.doc.Rect(at-5, y, min(length+10, wide-(at-x)+5), tall, "F")
	case checks.Undecided:
		right = x + length*0.8 // the word stands across the bracket's end
	}
	p.doc.SetLineWidth(1.1)
	for _, end := range []struct{ x, foot float64 }{{x + 0.6, foot}, {right, -foot}} {
		if outcome == checks.Undecided && end.foot < 0 {
			p.doc.Line(end.x, y, end.x, y+2)
			p.doc.Line(end.x, y+tall-2, end.x, y+tall)
		} else {
			p.doc.Line(end.x, y, end.x, y+tall)
		}
		p.doc.Line(end.x, y, end.x+end.foot, y)
		p.doc.Line(end.x, y+tall, end.x+end.foot, y+tall)
	}
	p.text(at, y+(tall-size*0.75)/2-0.3, size, "B", colour, wide, word)
}
