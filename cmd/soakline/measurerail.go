package main

import (
	"fmt"
	"io"
	"math"
	"path/filepath"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"soakline/checks"
	"soakline/checks/parts"
	"soakline/checks/reservoir"
	"soakline/checks/supply"
	"soakline/device"
	"soakline/logger/report"
)

// railFlags say what is known about a rail and its load.
type railFlags struct {
	record            recordFlags
	options           supply.Options
	loadAmps, loadOhm float64
	step              reservoir.StepOptions
	plot              string
	asJSON            bool
}

func measureRailCommand() *cobra.Command {
	var flags railFlags
	cmd := &cobra.Command{
		Use:   "rail FILE",
		Short: "Measure a rail: level, ripple and what it says about rectifier and capacitor, dropouts, start",
		Long: `Measure a supply rail from a DC-coupled record of ten mains cycles or so. Ripple at
twice the mains frequency is full wave; at once, a leg of the rectifier is out. With
the load's current or resistance and a record taken at the reservoir capacitor, its
capacitance and series resistance follow from the shape of the ripple; with --step-a
they follow from a load that is switched in the record. Limits are
judged only where they are given. Figures have their expanded uncertainty (k = 2)
behind ±.`,
		Example: `  soakline measure rail reservoir.csv --mains-hz 50 --load-a 0.45
  soakline measure rail rail-5v.csv --nominal-v 5 --low-v 4.75 --high-v 5.25 --json`,
		Args: oneArgument,
		RunE: func(cmd *cobra.Command, args []string) error { return flags.run(cmd, args[0]) },
	}
	flags.record.addTo(cmd)
	cmd.Flags().Float64Var(&flags.options.MainsHertz, "mains-hz", 0, "50 or 60 (default: either)")
	quantity(cmd, &flags.loadAmps, parts.Ampere, "load-a", "constant current that the load draws")
	quantity(cmd, &flags.loadOhm, parts.Ohm, "load-ohm", "load, where it is a resistance")
	cmd.Flags().Float64Var(&flags.step.StepAmperes, "step-a", 0, "by how much the load steps once in the record (below 0 if it falls)")
	quantity(cmd, &flags.step.SourceOhms, parts.Ohm, "source-ohm", "resistance of what feeds the capacitor beside it (default: as found)")
	cmd.Flags().Float64Var(&flags.options.NominalVolts, "nominal-v", 0, "what the rail should be, by size (default: as found)")
	cmd.Flags().Float64Var(&flags.options.Limits.LowVolts, "low-v", 0, "low limit, by size")
	cmd.Flags().Float64Var(&flags.options.Limits.HighVolts, "high-v", 0, "high limit, by size")
	cmd.Flags().Float64Var(&flags.options.Limits.RipplePeakToPeakVolts, "ripple-v", 0, "most ripple, peak to peak")
	cmd.Flags().Float64Var(&flags.options.Limits.TroughVolts, "trough-v", 0, "how low each cycle may go: what the regulator behind needs")
	cmd.Flags().BoolVar(&flags.options.HalfWave, "half-wave", false, "the rectifier is meant to be half wave")
	cmd.Flags().StringVar(&flags.plot, "plot", "", "draw the record into this file (.svg or .png)")
	addJSONFlag(cmd, &flags.asJSON)
	cmd.MarkFlagsMutuallyExclusive("load-a", "load-ohm", "step-a")
	return cmd
}

func (f *railFlags) run(cmd *cobra.Command, path string) error {
	if err := f.options.Validate(); err != nil {
		return wrongUsage(err)
	}
	capture, err := f.record.read(cmd, path)
	if err != nil {
		return err
	}
	result, err := supply.Analyse(supply.FromCapture(capture), f.options)
	if err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	if err := f.addReservoir(&result, capture); err != nil {
		return wrongUsage(err)
	}
	if err := f.addStep(&result, capture); err != nil {
		return wrongUsage(err)
	}
	if err := plotRail(f.plot, filepath.Base(path), result, capture); err != nil {
		return err
	}
	if f.asJSON {
		return printJSON(cmd.OutOrStdout(), result)
	}
	return printRail(cmd.OutOrStdout(), result)
}

// addReservoir finds the capacitor behind a mains ripple, where the load is known.
func (f *railFlags) addReservoir(result *supply.Result, capture device.Capture) error {
	if f.loadAmps == 0 && f.loadOhm == 0 || !result.FullWave && !result.HalfWave {
		return nil
	}
	fit, err := reservoir.FitRipple(capture.Volts, capture.SampleIntervalSeconds, reservoir.RippleOptions{
		LoadAmperes: f.loadAmps, LoadOhms: f.loadOhm, RippleHertz: result.RippleHertz.Value, HalfWave: result.HalfWave,
	})
	if err != nil {
		return err
	}
	result.Capacitance, result.ESR = supply.Measured(fit.Capacitance), supply.Measured(fit.ESR)
	for _, finding := range fit.Findings {
		result.Add(finding)
	}
	return nil
}

// addStep measures what a step of the load did, and the capacitor by it.
func (f *railFlags) addStep(result *supply.Result, capture device.Capture) error {
	if f.step.StepAmperes == 0 {
		return nil
	}
	fit, err := reservoir.FitLoadStep(capture.Volts, capture.SampleIntervalSeconds, f.step)
	if err != nil {
		return err
	}
	result.Capacitance, result.ESR = supply.Measured(fit.Capacitance), supply.Measured(fit.ESR)
	for _, finding := range fit.Findings {
		result.Add(finding)
	}
	if step, ok := supply.AnalyseLoadStep(capture.Volts, capture.SampleIntervalSeconds, 0); ok {
		result.Step = &step
	}
	return nil
}

// drawnSamples is how many points a drawn record has at most.
const drawnSamples = 2400

// thinned averages neighbours for a drawing.
func thinned(capture device.Capture) report.Trace {
	each := max(1, (len(capture.Volts)+drawnSamples-1)/drawnSamples)
	trace := report.Trace{IntervalSeconds: float64(each) * capture.SampleIntervalSeconds}
	for v := capture.Volts; len(v) >= each; v = v[each:] {
		sum := 0.0
		for _, x := range v[:each] {
			sum += x
		}
		trace.Volts = append(trace.Volts, sum/float64(each))
	}
	return trace
}

func plotRail(path, title string, result supply.Result, capture device.Capture) error {
	if path == "" {
		return nil
	}
	level := result.DCVolts
	drawing := report.LinePlot{Title: title, Traces: []report.Trace{thinned(capture)}, Rulers: []report.Ruler{
		{Label: "level", Volts: level.Value, Text: checks.Figure(level.Value, level.U, device.Volt)}}}
	return writePlot(path, drawing.SVG, drawing.PNG)
}

// figureRow is one figure of a table.
type figureRow struct {
	label    string
	value, u float64
	unit     device.Unit
}

// writeFigures writes figures one below the other; what was not found is said so.
func writeFigures(w io.Writer, rows []figureRow) error {
	table := tabwriter.NewWriter(w, 0, 0, 3, ' ', 0)
	for _, row := range rows {
		figure := "not measured"
		if !math.IsNaN(row.value) {
			figure = plainFor(w)(checks.Figure(row.value, row.u, row.unit))
		}
		fmt.Fprintf(table, "%s\t%s\n", row.label, figure)
	}
	return table.Flush()
}

// plainFor writes in ASCII what does not go to a terminal that has more.
func plainFor(w io.Writer) func(string) string {
	if onTerminal(w) && showsUnicode() {
		return func(text string) string { return text }
	}
	return checks.ASCII
}

// printFindings writes what was found and what to do about it.
func printFindings(w io.Writer, findings []checks.Finding) {
	plain := plainFor(w)
	for _, finding := range checks.Shown(findings) {
		fmt.Fprintf(w, "%s\n  %s\n", plain(finding.Text), plain(finding.Advice))
	}
}

func printRail(w io.Writer, r supply.Result) error {
	err := writeFigures(w, []figureRow{
		{"level", r.DCVolts.Value, r.DCVolts.U, device.Volt},
		{"ripple, peak to peak", r.RipplePeakToPeakVolts.Value, r.RipplePeakToPeakVolts.U, device.Volt},
		{"ripple, rms", r.RippleRMSVolts.Value, r.RippleRMSVolts.U, device.Volt},
		{"lowest of each cycle", r.TroughVolts.Value, r.TroughVolts.U, device.Volt},
		{"ripple frequency", r.RippleHertz.Value, r.RippleHertz.U, device.Hertz},
		{"capacitance", r.Capacitance.Value, r.Capacitance.U, device.Farad},
		{"series resistance", r.ESR.Value, r.ESR.U, device.Ohm},
	})
	if err != nil {
		return err
	}
	plain := plainFor(w)
	if s := r.Start; s != nil {
		fmt.Fprintf(w, "start at %s: up in %s, settled in %s, overshoot %s\n", plain(checks.Figure(s.BeginSeconds, 0, device.Second)),
			plain(checks.Figure(s.ToRailSeconds, 0, device.Second)), plain(checks.Figure(s.SettledSeconds, 0, device.Second)),
			checks.Figure(s.OvershootPercent/100, 0, device.Ratio))
	}
	if s := r.Step; s != nil {
		fmt.Fprintf(w, "load step at %s: sag %s, recovered to 1 %% in %s, then %s\n", plain(checks.Figure(s.BeginSeconds, 0, device.Second)),
			plain(checks.Figure(s.SagVolts, 0, device.Volt)), plain(checks.Figure(s.RecoverySeconds, 0, device.Second)),
			plain(checks.Difference(s.ChangeVolts, 0, device.Volt)))
	}
	for _, d := range r.Dips {
		fmt.Fprintf(w, "%s at %s for %s, down to %s\n", d.Kind, plain(checks.Figure(d.BeginSeconds, 0, device.Second)),
			plain(checks.Figure(d.Seconds(), 0, device.Second)), plain(checks.Figure(d.LowestVolts, 0, device.Volt)))
	}
	printFindings(w, r.Findings)
	return nil
}
