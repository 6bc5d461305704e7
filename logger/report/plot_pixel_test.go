package report

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"math"
	"testing"
	"time"
)

// pixels draws and reads the image back.
func pixels(t *testing.T, d drawing) image.Image {
	t.Helper()
	var b bytes.Buffer
	if err := writePNG(&b, d); err != nil {
		t.Fatal(err)
	}
	img, err := png.Decode(&b)
	if err != nil {
		t.Fatal(err)
	}
	if img.Bounds().Dx() != 1440 || img.Bounds().Dy() != 720 {
		t.Fatalf("image of %v, want 1440 by 720", img.Bounds())
	}
	return img
}

// count counts the pixels of exactly that colour within the shares of width and
// height (from the left, from the top), and returns where the first one is.
func count(img image.Image, want color.NRGBA, left, top, right, bottom float64) (n int, first image.Point) {
	size := img.Bounds().Size()
	for y := int(top * float64(size.Y)); y < int(bottom*float64(size.Y)); y++ {
		for x := int(left * float64(size.X)); x < int(right*float64(size.X)); x++ {
			if color.NRGBAModel.Convert(img.At(x, y)) == want {
				if n == 0 {
					first = image.Pt(x, y)
				}
				n++
			}
		}
	}
	return n, first
}

func TestLinePlotPixels(t *testing.T) {
	img := pixels(t, trialPlot())
	if got := color.NRGBAModel.Convert(img.At(1, 1)); got != paper {
		t.Errorf("corner %v, want paper", got)
	}
	for name, want := range map[string]color.NRGBA{"ink": ink, "baseline": ochre, "second record": {0x7d, 0x82, 0x8a, 0xff}} {
		if n, _ := count(img, want, 0.06, 0.16, 0.81, 0.9); n < 200 {
			t.Errorf("%s: %d pixels", name, n)
		}
	}
	// The white ruler runs beyond the line to its figure, in sea green.
	if n, _ := count(img, seaGreen, 0.82, 0.16, 1, 0.3); n < 30 {
		t.Errorf("white's figure: %d pixels", n)
	}
	// Between the end of the white bar and the edge nothing but the ruler is up there.
	if n, _ := count(img, ink, 0.7, 0.18, 0.81, 0.3); n != 0 {
		t.Errorf("%d pixels of ink where no record is", n)
	}
	none := trialPlot()
	none.Baseline = nil
	if n, _ := count(pixels(t, none), ochre, 0, 0, 1, 1); n != 0 {
		t.Errorf("no baseline, but %d pixels of ochre", n)
	}
}

func TestLinePlotRulerStandsAtItsLevel(t *testing.T) {
	p := LinePlot{
		Traces: []Trace{{IntervalSeconds: 1e-6, Volts: []float64{0, 1, 0, 1}}},
		Rulers: []Ruler{{Label: "a", Volts: 0.25}, {Label: "b", Volts: 0.75}},
	}
	img := pixels(t, p)
	row := func(v float64) int {
		p.Rulers = []Ruler{{Volts: v}}
		_, first := count(pixels(t, p), seaGreen, 0.1, 0, 0.12, 1)
		return first.Y
	}
	low, middle, high := row(0), row(0.5), row(1)
	if math.Abs(float64(low+high)/2-float64(middle)) > 1 {
		t.Errorf("0, 0.5 and 1 V stand at %d, %d and %d", low, middle, high)
	}
	for _, v := range []float64{0.25, 0.75} {
		want := float64(low) + v*float64(high-low)
		if n, _ := count(img, seaGreen, 0.1, (want-2)/720, 0.9, (want+3)/720); n < 500 {
			t.Errorf("%v V: %d pixels at row %v", v, n, want)
		}
	}
}

func TestSoakPlotPixels(t *testing.T) {
	img := pixels(t, nightSoak())
	// From begin at 0.0583 to end at 0.8465 of the width; 24 h.
	hour := func(h float64) float64 { return 0.0583 + h/24*(0.8465-0.0583) }
	tests := []struct {
		name                     string
		colour                   color.NRGBA
		left, top, right, bottom float64
		least, most              int
	}{
		{"readings before the gap", seaGreen, hour(1), 0.16, hour(5.9), 0.9, 1000, 1e6},
		{"no readings in the gap", seaGreen, hour(6.05), 0.16, hour(6.55), 0.93, 0, 0},
		{"no guard band in the gap", guardTint, hour(6.1), 0.16, hour(6.5), 0.93, 0, 0},
		{"guard band at the top", guardTint, hour(1), 0.19, hour(5), 0.26, 2000, 1e6},
		{"guard band at the bottom", guardTint, hour(1), 0.76, hour(5), 0.82, 2000, 1e6},
		{"no tint between the bands", guardTint, hour(1), 0.3, hour(5), 0.7, 0, 0},
		{"outside is brick", brick, hour(16), 0.8, hour(19), 0.95, 100, 1e6},
		{"nothing else is brick", brick, hour(0), 0.16, hour(16), 0.95, 0, 0},
		{"borderline is ochre", ochre, hour(10.5), 0.16, hour(13), 0.3, 50, 1e6},
		{"nothing written in what is to come", seaGreen, hour(20.1), 0.16, 1, 0.95, 0, 0},
		{"limit in ink", ink, hour(0), 0.2, hour(6), 0.21, 250, 1e6},
	}
	for _, tt := range tests {
		if n, _ := count(img, tt.colour, tt.left, tt.top, tt.right, tt.bottom); n < tt.least || n > tt.most {
			t.Errorf("%s: %d pixels, want %d to %d", tt.name, n, tt.least, tt.most)
		}
	}
}

func TestSoakPlotWithNothingInIt(t *testing.T) {
	p := SoakPlot{Title: "silent", Begin: soakBegin, End: soakBegin.Add(time.Hour), Low: math.Inf(-1), High: math.Inf(1)}
	if n, _ := count(pixels(t, p), seaGreen, 0.05, 0.2, 1, 1); n != 0 {
		t.Errorf("no reading, but %d pixels of sea green", n)
	}
	p.Envelope = []EnvelopePoint{{At: soakBegin.Add(time.Minute), Low: math.NaN(), High: math.NaN()}}
	p.Low = 1
	pixels(t, p)
	p.Envelope = []EnvelopePoint{{At: soakBegin.Add(30 * time.Minute), Low: 2, High: 2}}
	if n, _ := count(pixels(t, p), seaGreen, 0.05, 0.2, 1, 1); n == 0 {
		t.Error("a single reading is not to be seen")
	}
}

func TestSoakPlotExcursionThatLasts(t *testing.T) {
	p := nightSoak()
	p.Excursions = []ExcursionMark{{PlotInterval: PlotInterval{From: p.Begin.Add(16 * time.Hour)}, Worst: 4.6}}
	ended := nightSoak()
	ended.Excursions = []ExcursionMark{{PlotInterval: PlotInterval{From: p.Begin.Add(16 * time.Hour), To: p.Written}, Worst: 4.6}}
	if !bytes.Equal(svgOf(t, p), svgOf(t, ended)) {
		t.Error("an excursion that lasts is not drawn up to the last reading")
	}
}
