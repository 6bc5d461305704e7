package report

import (
	"context"
	"fmt"

	"soakline/checks"
	"soakline/checks/audio"
	"soakline/logger"
	"soakline/logger/book"
)

// SpectrumPart is a plot of the spectra of one audio output laid over one another.
type SpectrumPart struct {
	Title     string   `json:"title"`
	TestPoint string   `json:"test_point"`
	Labels    []string `json:"labels"`

	plot SpectrumPlot
}

// soakSpectra lays the spectra at the begin and the end of the soak over one another.
func (g gatherer) soakSpectra(ctx context.Context, soak book.Soak, sheet checks.Sheet, c *Certificate) error {
	records, err := logger.SoakAudioRecords(ctx, g.book, sheet, soak.ID)
	c.addSpectra(sheet, records, fmt.Sprintf("soak %d", soak.ID), func(r logger.AudioRecord) string { return r.At.In(c.zone).Format("2 Jan 15:04:05") })
	return err
}

// roundSpectra lays those of two rounds over one another.
func (g gatherer) roundSpectra(ctx context.Context, before, after book.Round, sheet checks.Sheet, c *Certificate) error {
	records, err := logger.AudioRecords(ctx, g.book, sheet, before, after)
	c.addSpectra(sheet, records, "before and after", func(r logger.AudioRecord) string { return r.Round.Label })
	return err
}

// addSpectra takes in a plot for each audio output that has records, with the level of
// the latest.
func (c *Certificate) addSpectra(sheet checks.Sheet, records []logger.AudioRecord, of string, label func(logger.AudioRecord) string) {
	for _, point := range sheet.TestPoints {
		part := SpectrumPart{TestPoint: string(point.Name), Title: fmt.Sprintf("%s %s spectrum, %s", c.Unit, point.Name, of), Labels: []string{}}
		part.plot = SpectrumPlot{Title: part.Title, LevelUnit: "dBV"}
		for _, r := range records {
			channel := r.Channels[0]
			if r.TestPoint != point.Name || channel.Spectrum.BinHertz == 0 {
				continue
			}
			part.Labels = append(part.Labels, label(r))
			part.plot.Spectra = append(part.plot.Spectra, SpectrumTrace{Label: label(r), BinHertz: channel.Spectrum.BinHertz, Power: channel.Spectrum.Power})
			part.plot.Rulers = nil
			if level := channel.LevelVolts().DBV(); level.OK() {
				part.plot.Rulers = []Ruler{{Label: "level", Volts: level.Value, Text: audio.DecibelText(level, "dBV")}}
			}
		}
		if part.plot.Validate() == nil {
			c.Spectra = append(c.Spectra, part)
		}
	}
}
