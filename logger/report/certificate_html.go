package report

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"time"

	"gonum.org/v1/plot/vg"
)

//go:embed certificate.html
var certificatePage string

// certificateTemplate is parsed once; a mistake in it is the program's own.
var certificateTemplate = template.Must(template.New("certificate").Funcs(template.FuncMap{
	"percent": percentText,
	"figure":  func(f FigurePart) string { text, _ := f.cut(); return text },
	"span":    CheckPart.spanText,
	"u":       func(f FigurePart) string { _, u := f.cut(); return u },
}).Parse(certificatePage))

// HTML writes the certificate as one page that needs nothing else, on a screen and
// printed on A4 or Letter.
func (c Certificate) HTML(w io.Writer) error {
	var page bytes.Buffer
	if err := certificateTemplate.Execute(&page, certificateView{c}); err != nil {
		return fmt.Errorf("make the page: %w", err)
	}
	if _, err := w.Write(page.Bytes()); err != nil {
		return fmt.Errorf("write the page: %w", err)
	}
	return nil
}

// certificateView is the certificate with what the page's template asks for.
type certificateView struct{ Certificate }

// Title, Facts, Record and Clock give the template what the other formats use.
func (v certificateView) Title() string             { return v.title() }
func (v certificateView) Facts() []string           { return v.facts() }
func (v certificateView) Record() []string          { return v.record() }
func (v certificateView) Clock(at time.Time) string { return v.clock(at) }
func (v certificateView) Troubles() []string        { return v.troubles() }
func (v certificateView) ShownReasons() []string    { return v.shownReasons() }
func (v certificateView) ChangesText() string       { return v.changesText() }
func (v certificateView) CapacitorLines() []string  { return v.capacitorLines() }

// Verdict, Tape, Code, Bracket, Plot, Line and Spectrum are drawings.
func (v certificateView) Verdict() (template.HTML, error) {
	return inline(verdictMark{v.Outcome}, verdictWidth, verdictHeight)
}

// Tape draws the soak's tape.
func (v certificateView) Tape() (template.HTML, error) {
	return inline(newTape(v.Certificate), tapeWidth, tapeHeight)
}

// Code draws the record's identity.
func (v certificateView) Code() (template.HTML, error) {
	code, err := newCode(v.Identity)
	if err != nil {
		return "", err
	}
	return inline(code, 100, 100)
}

// Bracket draws where a check's readings stood, FinalBracket where a figure did.
func (v certificateView) Bracket(p CheckPart) (template.HTML, error) {
	return inline(bracketMark{p.bracket}, bracketWidth, bracketHeight)
}
func (v certificateView) FinalBracket(f FinalFigure) (template.HTML, error) {
	return inline(bracketMark{f.bracket}, bracketWidth, bracketHeight)
}

// Plot draws a check over the soak.
func (v certificateView) Plot(p CheckPart) (template.HTML, error) {
	return inline(p.plot, sheetWidth, certPlotHeight)
}

// Spectrum draws spectra of an audio output.
func (v certificateView) Spectrum(p SpectrumPart) (template.HTML, error) {
	return inline(p.plot, sheetWidth, certLineHeight)
}

// Line draws video lines.
func (v certificateView) Line(p LinePart) (template.HTML, error) {
	return inline(p.plot, sheetWidth, certLineHeight)
}

// inline is a drawing as part of a page. Names in it were escaped when it was drawn.
func inline(d drawing, width, height vg.Length) (template.HTML, error) {
	document, err := svgSized(d, width, height)
	return template.HTML(document), err // #nosec G203 -- our own SVG, in which texts are escaped
}
