package report

import (
	"fmt"
	"image/color"
	"io"

	"gonum.org/v1/plot/vg"

	"soakline/checks"
)

// How large drawings are on the certificate, in their own points.
const (
	certPlotHeight = 200 * vg.Length(1)
	certLineHeight = 300 * vg.Length(1)
	tapeWidth      = 720 * vg.Length(1)
	tapeHeight     = 18 * vg.Length(1)
	bracketWidth   = 120 * vg.Length(1)
	bracketHeight  = 16 * vg.Length(1)
	verdictWidth   = 220 * vg.Length(1)
	verdictHeight  = 64 * vg.Length(1)
)

// PDF writes the certificate on pages that fit A4 and Letter.
func (c Certificate) PDF(w io.Writer) error {
	doc := newPDF(a4Width, a4Height, c.title(), c.Program, c.Written)
	doc.AliasNbPages("")
	p := &pdfPaper{doc: doc, y: paperTop}
	doc.SetFooterFunc(func() { c.foot(p) })
	doc.AddPage()
	for _, part := range []func(*pdfPaper){
		c.pdfHead, c.pdfReasons, c.pdfFinal, c.pdfChecks, c.pdfChanges, c.pdfCapacitors, c.pdfRecord, c.pdfStatement, c.pdfPlots,
	} {
		part(p)
	}
	if p.err != nil {
		return p.err
	}
	return finishPDF(doc, w)
}

// title names the paper.
func (c Certificate) title() string {
	return fmt.Sprintf("%s %s: record of test", c.Unit, c.Console)
}

// foot ends each page.
func (c Certificate) foot(p *pdfPaper) {
	const at = paperBottom + 6
	p.text(paperLeft, at, 7, "", greyInk, paperWide-60, fmt.Sprintf("%s   %s   chain %s   %s", c.Unit, c.Outcome, c.Chain.Text(), c.Program))
	p.right(paperLeft+paperWide, at, 7, "", greyInk, 60, fmt.Sprintf("page %d of {nb}", p.doc.PageNo()))
}

func (c Certificate) pdfHead(p *pdfPaper) {
	p.text(paperLeft, p.y, smallPrint, "", greyInk, paperWide/2, "soakline   record of test")
	p.right(paperLeft+paperWide, p.y, smallPrint, "", greyInk, paperWide/2, "bench "+c.Bench+"   "+c.clock(c.Given))
	p.y += 16
	markWide := 170.0
	p.drawIn(verdictMark{c.Outcome}, paperLeft+paperWide-markWide, p.y, markWide, verdictWidth, verdictHeight)
	p.text(paperLeft, p.y+2, 26, "B", ink, paperWide-markWide-10, c.Unit)
	p.text(paperLeft, p.y+32, 12, "", ink, paperWide-markWide-10, c.Console)
	p.y += 60
	for _, line := range c.facts() {
		p.paragraph(bodyPrint, ink, line)
	}
	if c.Soak != nil {
		p.y += 4
		p.draw(newTape(c), tapeWidth, tapeHeight)
	}
}

func (c Certificate) pdfReasons(p *pdfPaper) {
	for _, reason := range c.shownReasons() {
		p.y += 2
		p.paragraph(bodyPrint, outcomeInk(c.Outcome), reason)
	}
	for _, remark := range c.Remarks {
		p.y += 2
		p.paragraph(bodyPrint, ochre, remark)
	}
}

// outcomeInk is the colour that words about an outcome are set in.
func outcomeInk(outcome checks.Outcome) color.Color {
	switch outcome {
	case checks.Fail:
		return brick
	case checks.Undecided:
		return ochre
	default:
		return ink
	}
}

// pdfFinal writes the steps of a final test, each with its figures.
func (c Certificate) pdfFinal(p *pdfPaper) {
	if c.Final == nil {
		return
	}
	p.heading("Final test, step by step", 40)
	columns := []column{{head: "step", wide: 152}, {head: "limit", wide: 92}, {head: "where it stood", wide: 106}, {head: "figure", wide: 62, right: true},
		{head: "U (k = 2)", wide: 50, right: true}, {head: "", wide: 49}}
	p.head(columns)
	for _, step := range c.Final.Steps {
		style := ""
		if step.Outcome != checks.Pass {
			style = "B"
		}
		said := step.Said
		if len(step.Figures) > 0 {
			said = ""
		}
		p.row([]column{{wide: 152}, {wide: 310}, {wide: 49}}, style, outcomeInk(step.Outcome), step.Step, said, string(step.Outcome))
		for _, f := range step.Figures {
			figure, u := f.Figure.cut()
			top := p.row(columns, "", outcomeInk(f.Outcome), "   "+f.TestPoint+" "+f.Measure, f.Limit.Text, "", figure, u, "")
			p.drawIn(bracketMark{f.bracket}, paperLeft+columns[0].wide+columns[1].wide, top+0.5, 96, bracketWidth, bracketHeight)
		}
	}
}

func (c Certificate) pdfChecks(p *pdfPaper) {
	if c.Soak == nil {
		return
	}
	p.heading("Checks over the soak", 40)
	columns := []column{
		{head: "test point", wide: 122}, {head: "limit", wide: 86}, {head: "where it stood", wide: 101},
		{head: "mean", wide: 62, right: true}, {head: "U (k = 2)", wide: 47, right: true}, {head: "evidence", wide: 43, right: true}, {head: "", wide: 50},
	}
	p.head(columns)
	for _, part := range c.Checks {
		style, colour := "", outcomeInk(part.Outcome)
		if part.Outcome != checks.Pass {
			style = "B"
		}
		mean, u := part.Mean.cut()
		top := p.row(columns, style, colour, part.name(), part.Limit.Text, "", mean, u, percentText(part.EvidenceRatio), string(part.Outcome))
		p.drawIn(bracketMark{part.bracket}, paperLeft+columns[0].wide+columns[1].wide, top+0.5, 96, bracketWidth, bracketHeight)
	}
	p.y += 3
	for _, text := range c.troubles() {
		p.paragraph(smallPrint, greyInk, text)
	}
}

func (c Certificate) pdfChanges(p *pdfPaper) {
	if c.Changes == nil {
		return
	}
	p.heading("Before and after", 60)
	p.paragraph(smallPrint, greyInk, c.changesText())
	p.y += 3
	columns := []column{{head: "test point", wide: 132}, {head: "before", wide: 72, right: true}, {head: "after", wide: 72, right: true},
		{head: "change", wide: 158, right: true}, {head: "", wide: 77}}
	p.head(columns)
	for _, row := range c.Changes.Rows {
		before, _ := row.Before.cut()
		after, _ := row.After.cut()
		p.row(columns, "", ink, row.TestPoint+" "+row.Measure, before, after, row.Text, row.Meaning)
	}
}

func (c Certificate) pdfCapacitors(p *pdfPaper) {
	if len(c.Capacitors) == 0 {
		return
	}
	p.heading("Capacitors over time", 30)
	for _, line := range c.capacitorLines() {
		p.paragraph(smallPrint, ink, line)
	}
}

func (c Certificate) pdfRecord(p *pdfPaper) {
	p.heading("What this rests on", 110)
	code, err := newCode(c.Identity)
	if err != nil {
		p.err = err
		return
	}
	const side = 92.0
	top := p.y
	p.drawIn(code, paperLeft+paperWide-side, top, side, 100, 100)
	for _, line := range c.record() {
		p.paragraphAt(paperLeft, paperWide-side-12, smallPrint, ink, line)
		p.y += 1
	}
	p.y = max(p.y, top+side)
}

func (c Certificate) pdfStatement(p *pdfPaper) {
	p.heading("Cautions", 60)
	for _, caution := range c.Cautions {
		p.paragraph(smallPrint, ink, caution.TestPoint+": "+caution.Text)
		p.y += 1
	}
	for _, text := range c.Statement {
		p.paragraph(smallPrint, ink, text)
		p.y += 1
	}
	for _, note := range c.Notes {
		p.paragraph(smallPrint, greyInk, "Note of "+c.clock(note.At)+": "+note.Text)
	}
}

func (c Certificate) pdfPlots(p *pdfPaper) {
	if len(c.Checks) > 0 {
		p.heading("The soak, test point by test point", 160)
	}
	for _, part := range c.Checks {
		p.draw(part.plot, sheetWidth, certPlotHeight)
	}
	for _, line := range c.Lines {
		p.draw(line.plot, sheetWidth, certLineHeight)
	}
	for _, spectrum := range c.Spectra {
		p.draw(spectrum.plot, sheetWidth, certLineHeight)
	}
}
