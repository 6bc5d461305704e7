package main

import (
	"fmt"
	"io"
	"math"
	"path/filepath"

	"github.com/spf13/cobra"

	"soakline/checks"
	"soakline/checks/parts"
	"soakline/checks/reservoir"
	"soakline/device"
	"soakline/logger/report"
)

// dischargeFlags say what is known about a discharge.
type dischargeFlags struct {
	series  seriesFlags
	options reservoir.DischargeOptions
	plot    string
	asJSON  bool
}

func measureDischargeCommand() *cobra.Command {
	var flags dischargeFlags
	cmd := &cobra.Command{
		Use:   "discharge FILE",
		Short: "Measure how a capacitor loses its charge: time constant, capacitance or load, what comes back",
		Long: `Measure a saved discharge, from readings or from a scope: the time constant of the
part that is an exponential, with its expanded uncertainty (k = 2); the capacitance
from a known load, or the load from a known capacitance; the time to the voltage that
--safe-v gives; and what comes back afterwards. Readings need not be evenly spaced.

A computed time assumes that the discharge path is whole. Charge comes back by
itself, and this program can't see a part: measure again before touching.`,
		Example: `  soakline measure discharge off.csv --load-ohm 8k7 --safe-v 2
  soakline measure discharge off.csv --capacitance-f 4700u --expected-tau-s 41 --json`,
		Args: oneArgument,
		RunE: func(cmd *cobra.Command, args []string) error { return flags.run(cmd, args[0]) },
	}
	flags.series.addTo(cmd)
	quantity(cmd, &flags.options.LoadOhms, parts.Ohm, "load-ohm", "the discharge path, without the meter")
	quantity(cmd, &flags.options.CapacitanceFarads, parts.Farad, "capacitance-f", "the capacitance, where that is known")
	quantity(cmd, &flags.options.LoadAmperes, parts.Ampere, "load-a", "constant current before a regulator drops out")
	cmd.Flags().Float64Var(&flags.options.BelowVolts, "safe-v", 0, "voltage that it should come below, from the test sheet")
	quantity(cmd, &flags.options.MeterOhms, parts.Ohm, "meter-ohm", "the meter's own resistance (default: 10M)")
	cmd.Flags().Float64Var(&flags.options.ExpectedTauSeconds, "expected-tau-s", 0, "time constant with the bleeder whole")
	cmd.Flags().StringVar(&flags.plot, "plot", "", "draw the readings into this file (.svg or .png)")
	addJSONFlag(cmd, &flags.asJSON)
	cmd.MarkFlagsMutuallyExclusive("load-ohm", "capacitance-f")
	return cmd
}

func (f *dischargeFlags) run(cmd *cobra.Command, path string) error {
	if err := f.options.Validate(); err != nil {
		return wrongUsage(err)
	}
	series, err := f.series.read(cmd, path)
	if err != nil {
		return err
	}
	seconds, volts := series.Seconds, series.Values
	result, err := reservoir.AnalyseDischarge(seconds, volts, f.options)
	if err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	if err := plotDischarge(f.plot, filepath.Base(path), result, seconds, volts); err != nil {
		return err
	}
	if f.asJSON {
		return printJSON(cmd.OutOrStdout(), result)
	}
	return printDischarge(cmd.OutOrStdout(), result)
}

// plotDischarge draws the readings on an even grid, with the level asked for.
func plotDischarge(path, title string, result reservoir.Discharge, seconds, volts []float64) error {
	if path == "" {
		return nil
	}
	trace := report.Trace{StartSeconds: seconds[0]}
	trace.IntervalSeconds = (seconds[len(seconds)-1] - seconds[0]) / float64(max(1, min(len(seconds)-1, drawnSamples)))
	at := 0
	for t := seconds[0]; t <= seconds[len(seconds)-1] && len(trace.Volts) <= drawnSamples; t += trace.IntervalSeconds {
		for at+1 < len(seconds) && seconds[at+1] <= t {
			at++
		}
		trace.Volts = append(trace.Volts, volts[at])
	}
	drawing := report.LinePlot{Title: title, Traces: []report.Trace{trace}}
	if !math.IsNaN(result.BelowVolts) {
		drawing.Rulers = []report.Ruler{{Label: "below", Volts: result.BelowVolts}}
	}
	return writePlot(path, drawing.SVG, drawing.PNG)
}

func printDischarge(w io.Writer, r reservoir.Discharge) error {
	rows := []figureRow{
		{"voltage where the fall begins", r.V0.Value, r.V0.U, device.Volt},
		{"last reading", r.LastVolts, 0, device.Volt},
		{"time constant", r.Tau.Value, r.Tau.U, device.Second},
		{"tends to", r.Floor.Value, r.Floor.U, device.Volt},
		{"came back by", r.Rebound.Value, r.Rebound.U, device.Volt},
		{"capacitance", r.Capacitance.Value, r.Capacitance.U, device.Farad},
		{"load", r.Load.Value, r.Load.U, device.Ohm},
	}
	if !math.IsNaN(r.BelowVolts) {
		label := "below " + checks.Figure(r.BelowVolts, 0, device.Volt)
		rows = append(rows, figureRow{label + ", from the begin", r.SecondsToBelow.Value, r.SecondsToBelow.U, device.Second})
	}
	if err := writeFigures(w, rows); err != nil {
		return err
	}
	printFindings(w, r.Findings)
	_, err := fmt.Fprintln(w, "Measure again before touching: charge comes back by itself.")
	return err
}
