package report

import (
	"encoding/json"
	"fmt"
	"io"
	"strings"
)

// Format is a form that a certificate is written in.
type Format string

// The formats.
const (
	HTML  Format = "html"
	PDF   Format = "pdf"
	JSON  Format = "json"
	CSV   Format = "csv"
	JUnit Format = "junit" // XML that build servers read
	Label Format = "label" // PDF, 62 by 29 mm
)

// writer is a format with the type of its content and how it is written.
type writer struct {
	name        Format
	contentType string
	write       func(Certificate, io.Writer) error
}

var writers = []writer{
	{HTML, "text/html; charset=utf-8", Certificate.HTML},
	{PDF, "application/pdf", Certificate.PDF},
	{JSON, "application/json; charset=utf-8", Certificate.JSON},
	{CSV, "text/csv; charset=utf-8", Certificate.CSV},
	{JUnit, "application/xml; charset=utf-8", Certificate.JUnit},
	{Label, "application/pdf", Certificate.LabelPDF},
}

// writer finds how the format is written, and names all formats where there is no
// such one.
func (f Format) writer() (writer, error) {
	var known []string
	for _, w := range writers {
		if w.name == f {
			return w, nil
		}
		known = append(known, string(w.name))
	}
	return writer{}, fmt.Errorf("there is no format %q: there are %s", string(f), strings.Join(known, ", "))
}

// Validate refuses what is no format.
func (f Format) Validate() error {
	_, err := f.writer()
	return err
}

// ContentType is the format's media type; empty for what is no format.
func (f Format) ContentType() string {
	w, _ := f.writer()
	return w.contentType
}

// Extension is what the names of its files end with.
func (f Format) Extension() string {
	switch f {
	case Label:
		return string(PDF)
	case JUnit:
		return "xml"
	default:
		return string(f)
	}
}

// Write writes the certificate in a format.
func (c Certificate) Write(w io.Writer, format Format) error {
	how, err := format.writer()
	if err != nil {
		return err
	}
	if err := how.write(c, w); err != nil {
		return fmt.Errorf("report on %s as %s: %w", c.Unit, format, err)
	}
	return nil
}

// JSON writes all that the certificate says, figures that are not known as null.
func (c Certificate) JSON(w io.Writer) error {
	encoder := json.NewEncoder(w)
	encoder.SetIndent("", "  ")
	encoder.SetEscapeHTML(false)
	return encoder.Encode(c)
}

// FormatOf is the format that a file's name ends with; HTML if it says none.
func FormatOf(name string) Format {
	for _, w := range writers {
		if strings.HasSuffix(strings.ToLower(name), "."+w.name.Extension()) {
			return w.name
		}
	}
	return HTML
}
