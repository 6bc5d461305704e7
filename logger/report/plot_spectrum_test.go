package report

import (
	"bytes"
	"math"
	"slices"
	"strings"
	"testing"
)

// humSpectrum is a floor of -100 dB with lines of -10 dB at 1 kHz and -60 dB at 50 Hz,
// in bins of 0.5 Hz.
func humSpectrum() SpectrumPlot {
	power := make([]float64, 48001)
	for k := range power {
		power[k] = 1e-10
	}
	power[2000], power[100] = 0.1, 1e-6
	return SpectrumPlot{Title: "B8-0147 audio-left", LevelUnit: "dBV",
		Spectra: []SpectrumTrace{{Label: "left", BinHertz: 0.5, Power: power}},
		Rulers:  []Ruler{{Label: "noise", Volts: -57, Text: "-57.0 dBV"}}}
}

func TestSpectrumPlotTexts(t *testing.T) {
	elements, texts := svgContent(t, svgOf(t, humSpectrum()))
	if want := []string{"g", "path", "svg", "text", "title"}; !slices.Equal(elements, want) {
		t.Errorf("elements %v, want %v", elements, want)
	}
	for _, want := range []string{"B8-0147 audio-left: spectrum of left, noise -57.0 dBV", "left", "1 kHz", "20 kHz", "-100 dBV", "noise -57.0 dBV"} {
		if !slices.Contains(texts, want) {
			t.Errorf("%q is not in %q", want, texts)
		}
	}
	if !bytes.Equal(svgOf(t, humSpectrum()), svgOf(t, humSpectrum())) {
		t.Error("two documents differ")
	}
}

// TestSpectrumPlotKeepsLines: a line one bin wide is drawn at its height and place
// however many bins share a column.
func TestSpectrumPlotKeepsLines(t *testing.T) {
	trace := humSpectrum().Spectra[0]
	for _, wanted := range []int{100, 1000, 100000} {
		points := trace.columns(wanted)
		if len(points) > 2*wanted+2 {
			t.Errorf("%d points for %d columns", len(points), wanted)
		}
		for hertz, decibels := range map[float64]float64{1000: -10, 50: -60} {
			if !slices.ContainsFunc(points, func(p xy) bool {
				return math.Abs(p.x-math.Log10(hertz)) < 1e-9 && math.Abs(p.y-decibels) < 1e-9
			}) {
				t.Errorf("%v Hz at %v dB is lost in %d columns", hertz, decibels, wanted)
			}
		}
		if !slices.IsSortedFunc(points, func(a, b xy) int { return int(math.Copysign(1, a.x-b.x)) }) && wanted < 1e5 {
			t.Errorf("%d columns: the line goes back", wanted)
		}
	}
}

func TestSpectrumPlotPixels(t *testing.T) {
	img := pixels(t, humSpectrum())
	if n, _ := count(img, ink, 0.06, 0.16, 0.81, 0.9); n < 300 {
		t.Errorf("the spectrum has %d pixels of ink", n)
	}
	if n, _ := count(img, seaGreen, 0.06, 0.16, 1, 0.9); n < 300 {
		t.Errorf("the ruler has %d pixels", n)
	}
}

func TestSpectrumPlotRefuses(t *testing.T) {
	good := humSpectrum().Spectra[0]
	for want, p := range map[string]SpectrumPlot{
		"no spectrum":       {},
		"bins of 0 Hz":      {Spectra: []SpectrumTrace{{Power: good.Power}}},
		"bins of NaN Hz":    {Spectra: []SpectrumTrace{{BinHertz: math.NaN(), Power: good.Power}}},
		"no spectrum has":   {Spectra: []SpectrumTrace{{BinHertz: 1, Power: make([]float64, 100)}}},
		"no spectrum has p": {Spectra: []SpectrumTrace{{BinHertz: 1, Power: []float64{1, 1}}}},
		"ruler":             {Spectra: []SpectrumTrace{good}, Rulers: []Ruler{{Volts: math.NaN()}}},
	} {
		if err := p.Validate(); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v, want %q", err, want)
		}
	}
	odd := humSpectrum()
	odd.Spectra[0].Power[300], odd.Spectra[0].Power[301], odd.Spectra[0].Power[302] = math.NaN(), math.Inf(1), -1
	odd.Spectra = append(odd.Spectra, SpectrumTrace{Label: "right", BinHertz: 0.5, Power: good.Power})
	if err := odd.PNG(&bytes.Buffer{}); err != nil {
		t.Error(err)
	}
}
