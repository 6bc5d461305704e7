package main

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"time"

	"github.com/spf13/cobra"

	"soakline/checks/drift"
	"soakline/device"
	"soakline/logger/report"
)

// driftFlags say which readings and what they are compared with.
type driftFlags struct {
	series    seriesFlags
	low, high float64
	options   drift.Options
	plot      string
	asJSON    bool
}

func measureDriftCommand() *cobra.Command {
	var flags driftFlags
	cmd := &cobra.Command{
		Use:   "drift FILE",
		Short: "Measure whether readings wander: slope, trend, since when, and when a limit is met",
		Long: `Measure the drift of saved readings, which need not be evenly spaced: a table of
time_s,value, or what book export writes as CSV; of several series in a file the
flags pick one. Slope and time to a limit have an interval at 95 % that allows for
readings that resemble their neighbours. The charts (EWMA and CUSUM) learn level and
spread from a baseline at the beginning, a fifth of the record but at most an hour
unless --baseline says otherwise.`,
		Example: `  soakline measure drift rail.csv --low 4.75 --high 5.25 --since-warm-up 30m --plot rail.svg
  soakline book export --soak 12 --format csv | soakline measure drift - --test-point rail-5v --json`,
		Args: oneArgument,
		RunE: func(cmd *cobra.Command, args []string) error { return flags.run(cmd, args[0]) },
	}
	flags.series.addTo(cmd)
	cmd.Flags().Float64Var(&flags.low, "low", 0, "low limit, in the readings' unit (default: none)")
	cmd.Flags().Float64Var(&flags.high, "high", 0, "high limit, in the readings' unit (default: none)")
	cmd.Flags().DurationVar(&flags.options.WarmUp, "since-warm-up", 0, "leave out readings until this long after the first one")
	cmd.Flags().DurationVar(&flags.options.Baseline, "baseline", 0, "how long level and spread are learnt after that")
	cmd.Flags().StringVar(&flags.plot, "plot", "", "draw the readings into this file (.svg or .png)")
	addJSONFlag(cmd, &flags.asJSON)
	return cmd
}

func (f *driftFlags) run(cmd *cobra.Command, path string) error {
	if cmd.Flags().Changed("low") {
		f.options.LowLimit = &f.low
	}
	if cmd.Flags().Changed("high") {
		f.options.HighLimit = &f.high
	}
	if err := f.options.Validate(); err != nil {
		return wrongUsage(err)
	}
	series, err := f.series.read(cmd, path)
	if err != nil {
		return err
	}
	result, err := drift.Analyse(series.Seconds, series.Values, f.options)
	if err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	if err := plotSeries(f.plot, filepath.Base(path), series, f.options); err != nil {
		return err
	}
	if f.asJSON {
		return printJSON(cmd.OutOrStdout(), result)
	}
	return printDrift(cmd.OutOrStdout(), series, result)
}

// seriesFlags pick one series of readings out of a file.
type seriesFlags struct {
	record  recordFlags
	options device.SeriesOptions
	measure string
}

func (f *seriesFlags) addTo(cmd *cobra.Command) {
	f.record.addTo(cmd)
	cmd.Flags().StringVar(&f.options.TestedUnit, "unit", "", "only readings of this asset number, where the file names it")
	cmd.Flags().StringVar(&f.options.TestPoint, "test-point", "", "only readings of this test point, where the file names it")
	cmd.Flags().StringVar(&f.measure, "measure", "", "only readings of this measure; or what the file holds where it does not say")
}

// read reads a file, or standard input for "-".
func (f *seriesFlags) read(cmd *cobra.Command, path string) (device.Series, error) {
	f.options.Table, f.options.Measure = f.record.options, device.Measure(f.measure)
	if err := f.options.Validate(); err != nil {
		return device.Series{}, wrongUsage(err)
	}
	if path == "-" {
		return device.ReadSeries(cmd.InOrStdin(), "standard input", f.options)
	}
	file, err := os.Open(path)
	if err != nil {
		return device.Series{}, err
	}
	defer file.Close()
	return device.ReadSeries(file, path, f.options)
}

// plotSeries draws readings over time with their limits.
func plotSeries(path, title string, s device.Series, o drift.Options) error {
	if path == "" {
		return nil
	}
	begin, first, last := s.Begin, s.Seconds[0], s.Seconds[len(s.Seconds)-1]
	if begin.IsZero() {
		begin = time.Unix(0, 0).UTC()
	}
	after := func(seconds float64) time.Time { return begin.Add(time.Duration(seconds * float64(time.Second))) }
	drawing := report.SoakPlot{Title: title, Unit: s.Unit.Symbol, Begin: after(first), End: after(last), Low: math.Inf(-1), High: math.Inf(1)}
	if o.LowLimit != nil {
		drawing.Low = *o.LowLimit
	}
	if o.HighLimit != nil {
		drawing.High = *o.HighLimit
	}
	each := (last - first) / drawnSamples
	for i := 0; i < len(s.Values); {
		point := report.EnvelopePoint{At: after(s.Seconds[i]), Low: s.Values[i], High: s.Values[i]}
		for end := s.Seconds[i] + each; i < len(s.Values) && s.Seconds[i] <= end; i++ {
			point.Low, point.High = min(point.Low, s.Values[i]), max(point.High, s.Values[i])
		}
		drawing.Envelope = append(drawing.Envelope, point)
	}
	return writePlot(path, drawing.SVG, drawing.PNG)
}
