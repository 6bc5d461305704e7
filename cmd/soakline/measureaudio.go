package main

import (
	"fmt"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"soakline/checks/audio"
	"soakline/checks/parts"
	"soakline/device"
	"soakline/logger/report"
)

// audioFlags say what the file and the record do not say themselves.
type audioFlags struct {
	record      recordFlags
	sound       device.WAVOptions
	rightColumn int
	options     audio.Options
	extra       audioMore
	plot        string
	asJSON      bool
}

func measureAudioCommand() *cobra.Command {
	flags := audioFlags{options: audio.Options{Limits: audio.WorkshopLimits()}}
	cmd := &cobra.Command{
		Use:   "audio FILE",
		Short: "Measure line audio: level, noise, hum, distortion, balance, and what they mean",
		Long: `Measure line audio from a WAV file or a scope's record, told apart by content. A
WAV file has no volts: unless --full-scale-v says what its highest sample is worth,
levels are against full scale, at which a sine reads -3.0 dB. The limits are
workshop defaults, common practice without a source. Figures have their expanded
uncertainty (k = 2) behind ±; what the recorder's gain is off by comes on top.`,
		Example: `  soakline measure audio tone.wav --mains-hz 50 --full-scale-v 1.26 --plot tone.svg
  soakline measure audio tone.wav --before as-received.wav
  soakline measure audio sweep.wav --response
  soakline measure audio scope.csv --column 2 --right-column 3 --json`,
		Args: oneArgument,
		RunE: func(cmd *cobra.Command, args []string) error { return flags.run(cmd, args[0]) },
	}
	flags.record.addTo(cmd)
	cmd.Flags().IntVar(&flags.rightColumn, "right-column", 0, "column of the right channel, where text has two")
	cmd.Flags().Float64Var(&flags.sound.FullScaleVolts, "full-scale-v", 0, "volts that a WAV file's highest sample is worth (default: not known)")
	cmd.Flags().Float64Var(&flags.options.MainsHertz, "mains-hz", 0, "50 or 60 (default: either)")
	quantity(cmd, &flags.options.ToneHertz, parts.Hertz, "tone", "the test tone's frequency (default: as found)")
	flags.extra.addTo(cmd)
	cmd.Flags().StringVar(&flags.plot, "plot", "", "draw the spectrum into this file (.svg or .png)")
	addJSONFlag(cmd, &flags.asJSON)
	return cmd
}

// run does the whole command.
func (f *audioFlags) run(cmd *cobra.Command, path string) error {
	if f.options.MainsHertz != 0 && f.options.MainsHertz != 50 && f.options.MainsHertz != 60 {
		return wrongUsage(fmt.Errorf("--mains-hz %g: there are 50 and 60", f.options.MainsHertz))
	}
	recording, err := f.read(cmd, path)
	if err != nil {
		return err
	}
	record := audio.FromRecording(recording)
	result, err := audio.Analyse(record, f.options)
	if err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	more, err := f.more(cmd, record, result)
	if err != nil {
		return err
	}
	if err := plotAudio(f.plot, filepath.Base(path), result); err != nil {
		return err
	}
	switch {
	case f.asJSON && f.extra.asked():
		return printJSON(cmd.OutOrStdout(), more)
	case f.asJSON:
		return printJSON(cmd.OutOrStdout(), result)
	}
	if !f.extra.response { // tones that change have no level, noise or distortion of their own
		if err := printAudio(cmd.OutOrStdout(), result); err != nil {
			return err
		}
	}
	return printMore(cmd.OutOrStdout(), more)
}

// read reads the file, or standard input for "-".
func (f *audioFlags) read(cmd *cobra.Command, path string) (recording device.Recording, err error) {
	if err := f.record.options.Validate(); err != nil {
		return recording, wrongUsage(err)
	}
	if err := f.sound.Validate(); err != nil {
		return recording, wrongUsage(err)
	}
	var columns []int
	if f.rightColumn != 0 {
		left := f.record.options.ValueColumn
		if left < 1 || f.rightColumn < 1 || left == f.rightColumn {
			return recording, wrongUsage(fmt.Errorf("--right-column %d: give the left channel's --column as well, and another one", f.rightColumn))
		}
		columns = []int{left, f.rightColumn}
	}
	in, name := cmd.InOrStdin(), "standard input"
	if path != "-" {
		file, err := os.Open(path)
		if err != nil {
			return recording, err
		}
		defer file.Close()
		in, name = file, path
	}
	sound := f.sound
	sound.LeaveCutEnd = f.record.options.LeaveCutLine
	return device.ReadRecording(in, name, sound, f.record.options, columns...)
}

// plotAudio draws the channels' spectra with level and noise.
func plotAudio(path, title string, result audio.Result) error {
	if path == "" {
		return nil
	}
	unit := levelUnit(result)
	drawing := report.SpectrumPlot{Title: title, LevelUnit: unit}
	for _, c := range result.Channels {
		if c.Spectrum.BinHertz == 0 {
			continue
		}
		drawing.Spectra = append(drawing.Spectra, report.SpectrumTrace{Label: c.Name, BinHertz: c.Spectrum.BinHertz, Power: c.Spectrum.Power})
		for _, r := range []struct {
			label string
			m     audio.Measured
		}{{"level", c.LevelVolts().DBV()}, {"noise", c.NoiseVolts.DBV()}} {
			if r.m.OK() && len(drawing.Spectra) == 1 {
				drawing.Rulers = append(drawing.Rulers, report.Ruler{Label: c.Name + " " + r.label, Volts: r.m.Value, Text: audio.DecibelText(r.m, unit)})
			}
		}
	}
	if len(drawing.Spectra) == 0 {
		return fmt.Errorf("--plot %s: there is no spectrum to draw", path)
	}
	return writePlot(path, drawing.SVG, drawing.PNG)
}

// levelUnit is what levels are printed in.
func levelUnit(r audio.Result) string {
	if r.Relative {
		return "dB"
	}
	return "dBV"
}
