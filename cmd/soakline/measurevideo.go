package main

import (
	"fmt"
	"io"
	"math"
	"path/filepath"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"soakline/checks"
	"soakline/checks/video"
	"soakline/device"
	"soakline/logger/report"
)

func measureVideoCommand() *cobra.Command {
	var flags recordFlags
	options := video.Options{Limits: video.WorkshopLimits()}
	var system, coupling, plot string
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "video FILE",
		Short: "Measure composite video: levels, offset, overshoot, noise, and what they mean",
		Long: `Measure composite video from a record of one line or more, taken into 75 ohm. The
limits are workshop defaults, common practice without a source; a test sheet's are
used at the bench. Figures have their expanded uncertainty (k = 2) behind ±.`,
		Example: `  soakline measure video line.csv --system 625/50 --coupling dc --plot line.svg
  soakline measure video samples.txt.gz --sample-rate 25M --scale 0.004 --json`,
		Args: oneArgument,
		RunE: func(cmd *cobra.Command, args []string) error {
			options.System, options.Coupling = video.System(system), coupling
			if err := checkVideoFlags(system, coupling); err != nil {
				return wrongUsage(err)
			}
			record, err := flags.read(cmd, args[0])
			if err != nil {
				return err
			}
			result, err := video.Analyse(video.FromCapture(record), options)
			if err != nil {
				return fmt.Errorf("%s: %w", args[0], err)
			}
			if err := plotVideo(plot, filepath.Base(args[0]), result, record); err != nil {
				return err
			}
			if asJSON {
				return printJSON(cmd.OutOrStdout(), result)
			}
			return printVideo(cmd.OutOrStdout(), result, record)
		},
	}
	flags.addTo(cmd)
	cmd.Flags().StringVar(&system, "system", "", "625/50 or 525/60 (default: as found)")
	cmd.Flags().StringVar(&coupling, "coupling", "", "dc or ac, as the scope's input was set (default: as the file says)")
	cmd.Flags().Float64Var(&options.MainsHertz, "mains-hz", 0, "50 or 60 (default: either)")
	cmd.Flags().BoolVar(&options.PictureHasWhite, "picture-has-white", false, "the picture is known to have white in it")
	cmd.Flags().StringVar(&plot, "plot", "", "draw the line into this file (.svg or .png)")
	addJSONFlag(cmd, &asJSON)
	return cmd
}

func checkVideoFlags(system, coupling string) error {
	switch video.System(system) {
	case "", video.System625, video.System525:
	default:
		return fmt.Errorf("--system %q: there are %s and %s", system, video.System625, video.System525)
	}
	switch coupling {
	case "", video.CouplingDC, video.CouplingAC:
	default:
		return fmt.Errorf("--coupling %q: there are dc and ac", coupling)
	}
	return nil
}

// linePoints is how many points a drawn line has; linesAveraged how many lines it
// is the mean of.
const (
	linePoints    = 1200
	linesAveraged = 16
)

// plotVideo draws the mean line with its levels.
func plotVideo(path, title string, result video.Result, record device.Capture) error {
	if path == "" {
		return nil
	}
	mean := result.MeanLine(video.FromCapture(record), linePoints, linesAveraged)
	if mean.Lines == 0 {
		return fmt.Errorf("--plot %s: %w", path, errNothingFound)
	}
	drawing := report.LinePlot{Title: title, Rulers: videoRulers(result), Traces: []report.Trace{{
		Label: "", StartSeconds: mean.StartSeconds, IntervalSeconds: mean.IntervalSeconds, Volts: mean.Volts}}}
	return writePlot(path, drawing.SVG, drawing.PNG)
}

func videoRulers(result video.Result) []report.Ruler {
	var rulers []report.Ruler
	for _, level := range []struct {
		label string
		m     video.Measured
	}{{"sync tip", result.SyncTipVolts}, {"blanking", result.BlankingVolts}, {"white", result.WhiteVolts}} {
		if level.m.OK() {
			rulers = append(rulers, report.Ruler{Label: level.label, Volts: level.m.Value,
				Text: checks.Figure(level.m.Value, level.m.U, device.Volt)})
		}
	}
	return rulers
}

// videoRow is one figure of the table.
type videoRow struct {
	label string
	m     video.Measured
	unit  device.Unit
	scale float64 // turns the result's figure into the unit
}

// rowsOf lists a result's figures in the order in which they are read.
func rowsOf(r video.Result) []videoRow {
	return []videoRow{
		{"sync tip to white", r.LumaPeakToPeakVolts, device.Volt, 1},
		{"highest less lowest", r.PeakToPeakVolts, device.Volt, 1},
		{"sync tip", r.SyncTipVolts, device.Volt, 1},
		{"blanking", r.BlankingVolts, device.Volt, 1},
		{"black", r.BlackVolts, device.Volt, 1},
		{"white", r.WhiteVolts, device.Volt, 1},
		{"sync", r.SyncVolts, device.Volt, 1},
		{"burst", r.BurstPeakToPeakVolts, device.Volt, 1},
		{"burst frequency", r.BurstHertz, device.Hertz, 1},
		{"line period", r.LinePeriodSeconds, device.Second, 1},
		{"line sync width", r.SyncWidthSeconds, device.Second, 1},
		{"overshoot", r.OvershootPercent, device.Ratio, 0.01},
		{"undershoot", r.UndershootPercent, device.Ratio, 0.01},
		{"rise, 10-90 %", r.RiseSeconds, device.Second, 1},
		{"fall, 90-10 %", r.FallSeconds, device.Second, 1},
		{"bandwidth, estimated", r.BandwidthHertz, device.Hertz, 1},
		{"noise, rms", r.NoiseVolts, device.Volt, 1},
		{"tilt over a line", r.TiltPercent, device.Ratio, 0.01},
		{"hum, peak to peak", r.HumVolts, device.Volt, 1},
	}
}

// printVideo writes the drawing, the figures and what they mean.
func printVideo(w io.Writer, r video.Result, record device.Capture) error {
	unicode := onTerminal(w) && showsUnicode()
	plain := func(text string) string {
		if unicode {
			return text
		}
		return checks.ASCII(text)
	}
	drawLine(w, r, record, unicode)
	system := string(r.System)
	if system == "" {
		system = "system " + checks.NotKnown
	}
	fmt.Fprintf(w, "%s, %d lines, %s\n", system, r.LinesFound, sentenceOf(r.State))
	if r.LinesFound > 0 {
		if err := printFigures(w, r, plain); err != nil {
			return err
		}
	}
	for _, finding := range checks.Shown(r.Findings) {
		fmt.Fprintf(w, "%s\n  %s\n", plain(finding.Text), plain(finding.Advice))
	}
	return nil
}

// printFigures writes the table of figures; what was not measured says so.
func printFigures(w io.Writer, r video.Result, plain func(string) string) error {
	table := tabwriter.NewWriter(w, 0, 0, 3, ' ', 0)
	for _, row := range rowsOf(r) {
		figure := "not measured"
		if row.m.OK() {
			figure = plain(checks.Figure(row.m.Value*row.scale, row.m.U*row.scale, row.unit))
		}
		if row.label == "noise, rms" && row.m.OK() && !math.IsNaN(r.NoiseBandwidthHertz) {
			figure += " up to " + checks.Figure(r.NoiseBandwidthHertz, 0, device.Hertz)
		}
		fmt.Fprintf(table, "%s\t%s\n", row.label, figure)
	}
	for _, tone := range r.Tones {
		fmt.Fprintf(table, "tone, rms\t%s at %s\n", plain(checks.Figure(tone.RMSVolts.Value, tone.RMSVolts.U, device.Volt)),
			plain(checks.Figure(tone.Hertz.Value, tone.Hertz.U, device.Hertz)))
	}
	return table.Flush()
}

// sentenceOf says a result's state as part of a sentence.
func sentenceOf(state checks.State) string {
	return string(state) + " the workshop's limits"
}

// The drawing of a line on a terminal.
const (
	drawnColumns = 68
	drawnRows    = 14
)

// drawLine draws the mean line in characters, its levels at the right edge.
func drawLine(w io.Writer, r video.Result, record device.Capture, unicode bool) {
	mean := r.MeanLine(video.FromCapture(record), drawnColumns*8, linesAveraged)
	if mean.Lines == 0 {
		return
	}
	ink := "|"
	if unicode {
		ink = "█"
	}
	low, high := bounds(mean.Volts)
	row := func(volts float64) int {
		return min(max(int(float64(drawnRows)*(high-volts)/(high-low)), 0), drawnRows-1)
	}
	var cells [drawnRows][drawnColumns]bool
	for column := range drawnColumns {
		from, to := column*len(mean.Volts)/drawnColumns, (column+1)*len(mean.Volts)/drawnColumns
		if to <= from {
			continue
		}
		least, most := bounds(mean.Volts[from:to])
		for at := row(most); at <= row(least); at++ {
			cells[at][column] = true
		}
	}
	labels := levelLabels(r, row)
	for at := range cells {
		var line strings.Builder
		for _, inked := range cells[at] {
			if inked {
				line.WriteString(ink)
			} else {
				line.WriteByte(' ')
			}
		}
		fmt.Fprintln(w, strings.TrimRight(line.String()+"  "+labels[at], " "))
	}
}

// levelLabels puts the measured levels beside the rows that they stand on.
func levelLabels(r video.Result, row func(float64) int) map[int]string {
	labels := map[int]string{}
	for _, ruler := range videoRulers(r) {
		labels[row(ruler.Volts)] = strings.TrimSpace(labels[row(ruler.Volts)] + " " + ruler.Label)
	}
	return labels
}

// bounds are the least and the greatest of some figures; a flat line is given a
// millivolt of room.
func bounds(volts []float64) (low, high float64) {
	low, high = math.Inf(1), math.Inf(-1)
	for _, v := range volts {
		low, high = min(low, v), max(high, v)
	}
	if high-low < 1e-3 {
		high = low + 1e-3
	}
	return low, high
}
