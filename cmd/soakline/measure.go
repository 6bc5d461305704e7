package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"soakline/checks/parts"
	"soakline/device"
)

func measureCommand() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "measure",
		Short: "Measure a saved record",
		Long: `Measure a record that a scope has saved, or readings that a meter has: CSV with time
and volts under any header lines, or one column with --sample-rate and --scale;
gzipped too; - is standard input.`,
		Args: noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	cmd.AddCommand(measureVideoCommand(), measureRailCommand(), measureDischargeCommand(), measureAudioCommand(), measureDriftCommand())
	return cmd
}

// recordFlags say what a saved record's file does not say itself.
type recordFlags struct {
	options device.RecordOptions
}

func (f *recordFlags) addTo(cmd *cobra.Command) {
	quantity(cmd, &f.options.SampleRateHertz, parts.Hertz, "sample-rate", "samples a second, where the file has no times")
	cmd.Flags().Float64Var(&f.options.VoltsPerUnit, "scale", 0, "volts that one unit of the file is worth (default: volts)")
	cmd.Flags().IntVar(&f.options.ValueColumn, "column", 0, "column of the values, counted from 1 (default: the first after the times)")
	cmd.Flags().StringVar(&f.options.ValueName, "column-name", "", "column of the values by its name in the header")
	cmd.Flags().BoolVar(&f.options.LeaveCutLine, "leave-cut-line", false, "leave out a last line that breaks off")
	cmd.MarkFlagsMutuallyExclusive("column", "column-name")
}

// read reads the record in a file, or in standard input for "-".
func (f *recordFlags) read(cmd *cobra.Command, path string) (record device.Capture, err error) {
	if err := f.options.Validate(); err != nil {
		return record, wrongUsage(err)
	}
	in, name := cmd.InOrStdin(), "standard input"
	if path != "-" {
		file, err := os.Open(path)
		if err != nil {
			return record, err
		}
		defer file.Close()
		in, name = file, path
	}
	return device.ReadRecord(in, name, f.options)
}

// writePlot writes a drawing to a file: SVG, or PNG where its name ends so.
func writePlot(path string, svg, png func(io.Writer) error) error {
	if path == "" {
		return nil
	}
	draw := svg
	if strings.EqualFold(filepath.Ext(path), ".png") {
		draw = png
	} else if !strings.EqualFold(filepath.Ext(path), ".svg") {
		return wrongUsage(fmt.Errorf("--plot %q: the name ends in .svg or .png", path))
	}
	return writeTo(path, io.Discard, draw)
}

// errNothingFound keeps a plot from being asked of a record without a line.
var errNothingFound = errors.New("there is no whole line to draw")
