package report

import (
	"fmt"
	"image/color"

	"github.com/boombuler/barcode"
	"github.com/boombuler/barcode/qr"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// codeMark draws a QR code (ISO/IEC 18004) with the quiet zone of four modules that
// the standard asks for.
type codeMark struct {
	text string
	code barcode.Barcode
}

// newCode encodes a text with error correction M: 15 % of it may be lost.
func newCode(text string) (codeMark, error) {
	code, err := qr.Encode(text, qr.M, qr.Auto)
	if err != nil {
		return codeMark{}, fmt.Errorf("QR code of %q: %w", text, err)
	}
	return codeMark{text, code}, nil
}

const quietModules = 4

func (m codeMark) check() error { return nil }

func (m codeMark) caption() string { return "QR code: " + m.text }

// drawOn fills the canvas, black on white: scanners want contrast.
func (m codeMark) drawOn(c draw.Canvas) {
	size := m.code.Bounds().Dx()
	module := min(c.Max.X-c.Min.X, c.Max.Y-c.Min.Y) / vg.Length(size+2*quietModules)
	fillRectangle(c, color.White, c.Min.X, c.Min.Y, c.Max.X, c.Max.Y)
	for row := range size {
		top := c.Max.Y - vg.Length(row+quietModules)*module
		for from := 0; from < size; from++ {
			to := from
			for to < size && m.dark(to, row) {
				to++
			}
			if to > from { // a run of dark modules is one rectangle: no hairlines between them
				fillRectangle(c, color.Black, c.Min.X+vg.Length(from+quietModules)*module, top-module, c.Min.X+vg.Length(to+quietModules)*module, top)
				from = to
			}
		}
	}
}

func (m codeMark) dark(x, y int) bool {
	return color.GrayModel.Convert(m.code.At(x, y)).(color.Gray).Y < 128
}
