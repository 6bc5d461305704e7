package report

import (
	"bytes"
	"context"
	"math"
	"strings"
	"testing"
	"time"

	"soakline/checks"
	"soakline/device"
	"soakline/logger/book"
)

// audibleSheet is the sheet of the tests, with a scope at the audio output.
func audibleSheet(string, []byte) (checks.Sheet, error) {
	sheet, _ := benchSheet()
	for i, point := range sheet.TestPoints {
		if point.Name == "audio-left" {
			sheet.TestPoints[i].Audio = &checks.AudioPlan{ToneHertz: 1000, MainsHertz: 50}
		}
	}
	return sheet, nil
}

// tone is half a second of 1 kHz with a second harmonic 40 dB below it.
func tone(rms float64, at time.Time) device.Capture {
	record := device.Capture{SampleIntervalSeconds: 1.0 / 48000, LowVolts: -2, HighVolts: 2, Coupling: "ac", At: at, Volts: make([]float64, 24000)}
	for i := range record.Volts {
		x := 2 * math.Pi * float64(i) / 48
		record.Volts[i] = rms * math.Sqrt2 * (math.Sin(x) + 0.01*math.Sin(2*x))
	}
	return record
}

// audible is a certificate with audio records of both rounds and of the soak.
func audible(t *testing.T) Certificate {
	t.Helper()
	b, id := soakedBook(t, story{})
	rounds, err := b.Rounds(t.Context(), certUnit)
	must(t, err)
	keep := func(of book.KeptCapture, rms float64, at time.Time) {
		of.TestPoint, of.Instrument = "audio-left", "scope"
		_, err := b.AddCapture(context.WithoutCancel(t.Context()), of, tone(rms, at))
		must(t, err)
	}
	keep(book.KeptCapture{Round: rounds[0].ID, Kind: book.CaptureRound}, 0.158, rounds[0].Begin)
	keep(book.KeptCapture{Round: rounds[1].ID, Kind: book.CaptureRound}, 0.316, rounds[1].Begin)
	keep(book.KeptCapture{Soak: id, Kind: book.CaptureBegin}, 0.316, soakBegin)
	keep(book.KeptCapture{Soak: id, Kind: book.CaptureEnd}, 0.316, soakBegin.Add(4*time.Hour))
	options := certOptions()
	options.ParseSheet = audibleSheet
	c, err := NewCertificate(t.Context(), b, certUnit, options)
	must(t, err)
	return c
}

// TestCertificateHasSpectra: one plot of both rounds and one of the soak, on every
// paper, with the level of the latest record: 0.316 V is -10.006 dBV.
func TestCertificateHasSpectra(t *testing.T) {
	c := audible(t)
	if len(c.Spectra) != 2 {
		t.Fatalf("spectra: %+v", c.Spectra)
	}
	for i, want := range []SpectrumPart{
		{Title: "B8-0147 audio-left spectrum, soak 1", Labels: []string{"24 Nov 09:10:00", "24 Nov 13:10:00"}},
		{Title: "B8-0147 audio-left spectrum, before and after", Labels: []string{"as received", "output capacitor replaced"}},
	} {
		got := c.Spectra[i]
		if got.Title != want.Title || strings.Join(got.Labels, "|") != strings.Join(want.Labels, "|") || got.TestPoint != "audio-left" {
			t.Errorf("%+v, want %+v", got, want)
		}
		if level := got.plot.Rulers[0]; math.Abs(level.Volts+10.006) > 0.05 || !strings.HasSuffix(level.Text, "dBV") {
			t.Errorf("%s: level %+v", got.Title, level)
		}
	}
	pages := ran(t, "pdftotext", "-layout", written(t, c, PDF), "-")
	var page, data bytes.Buffer
	must(t, c.Write(&page, HTML))
	must(t, c.Write(&data, JSON))
	for name, text := range map[string]string{"PDF": pages, "HTML": page.String(), "JSON": data.String()} {
		for _, want := range []string{"audio-left spectrum, soak 1", "audio-left spectrum, before and after", "as received"} {
			if !strings.Contains(text, want) {
				t.Errorf("%q is not in the %s", want, name)
			}
		}
	}
	if silent := certified(t, story{}); len(silent.Spectra) != 0 {
		t.Errorf("spectra of a unit without audio records: %v", silent.Spectra)
	}
}
