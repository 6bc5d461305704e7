package main

import (
	"context"
	"fmt"

	"soakline/checks"
	"soakline/logger"
	"soakline/logger/book"
	"soakline/logger/report"
)

// plotAudioRounds draws the spectra of a comparison's audio outputs over each other.
func plotAudioRounds(ctx context.Context, path string, b *book.Book, sheet checks.Sheet, c logger.Comparison) error {
	if path == "" {
		return nil
	}
	records, err := logger.AudioRecords(ctx, b, sheet, c.Before, c.After)
	if err != nil {
		return err
	}
	drawing := report.SpectrumPlot{Title: string(c.Unit), LevelUnit: "dBV"}
	for _, r := range records {
		if s := r.Channels[0].Spectrum; s.BinHertz > 0 {
			drawing.Spectra = append(drawing.Spectra, report.SpectrumTrace{
				Label: fmt.Sprintf("%s, %s", r.TestPoint, r.Round.Label), BinHertz: s.BinHertz, Power: s.Power})
		}
	}
	if len(drawing.Spectra) == 0 {
		return fmt.Errorf("--plot %s: neither round has a record of an audio output to draw", path)
	}
	return writePlot(path, drawing.SVG, drawing.PNG)
}
