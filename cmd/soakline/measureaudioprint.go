package main

import (
	"fmt"
	"io"
	"math"
	"text/tabwriter"

	"soakline/checks"
	"soakline/checks/audio"
	"soakline/device"
)

// audioRow is one figure of a channel as it is printed.
type audioRow struct{ label, figure string }

// printAudio writes the figures, channel beside channel, and what they mean.
func printAudio(w io.Writer, r audio.Result) error {
	plain := func(text string) string {
		if onTerminal(w) && showsUnicode() {
			return text
		}
		return checks.ASCII(text)
	}
	fmt.Fprintf(w, "%d channels, %s at %s, %s\n", len(r.Channels), checks.Figure(r.Seconds, 0, device.Second),
		checks.Figure(r.SampleHertz, 0, device.Hertz), sentenceOf(r.State))
	table := tabwriter.NewWriter(w, 0, 0, 3, ' ', 0)
	columns := make([][]audioRow, len(r.Channels))
	for i, c := range r.Channels {
		columns[i] = audioRows(r, c)
		fmt.Fprintf(table, "\t%s", c.Name)
	}
	fmt.Fprintln(table)
	for row := range columns[0] {
		fmt.Fprint(table, columns[0][row].label)
		for _, column := range columns {
			fmt.Fprintf(table, "\t%s", plain(column[row].figure))
		}
		fmt.Fprintln(table)
	}
	if len(r.Channels) > 1 {
		fmt.Fprintf(table, "balance\t%s\n", plain(decibels(r.Balance.Decibels, "dB")))
		fmt.Fprintf(table, "phase\t%s\n", plain(decibels(r.Balance.PhaseDegrees, "deg")))
	}
	if err := table.Flush(); err != nil {
		return err
	}
	for _, c := range r.Channels {
		for _, h := range c.Hum {
			fmt.Fprintf(w, "hum on %s at %s: %s\n", c.Name, plain(figureOrNot(h.Hertz, device.Hertz)), plain(decibels(h.Volts.DBV(), levelUnit(r))))
		}
	}
	for _, finding := range checks.Shown(r.Findings) {
		fmt.Fprintf(w, "%s\n  %s\n", plain(finding.Text), plain(finding.Advice))
	}
	return nil
}

// audioRows lists a channel's figures in the order in which they are read.
func audioRows(r audio.Result, c audio.ChannelResult) []audioRow {
	unit := levelUnit(r)
	rows := []audioRow{{"level", decibels(c.LevelVolts().DBV(), unit)}}
	if !r.Relative {
		rows = append(rows,
			audioRow{"", decibels(c.LevelVolts().DBu(), "dBu")},
			audioRow{"rms", figureOrNot(c.RMSVolts, device.Volt)},
			audioRow{"peak to peak", figureOrNot(c.PeakToPeakVolts, device.Volt)},
			audioRow{"DC", figureOrNot(c.DCVolts, device.Volt)})
	}
	crest := "not measured"
	if c.CrestFactor.OK() {
		crest = checks.Figure(c.CrestFactor.Value, 0, device.CrestFactor.Unit()) + "   " + decibels(c.CrestFactor.Decibels(1), "dB")
	}
	return append(rows,
		audioRow{"peak", decibels(c.PeakVolts.DBV(), unit)},
		audioRow{"crest factor", crest},
		audioRow{"tone", figureOrNot(c.ToneHertz, device.Hertz)},
		audioRow{"noise", decibels(c.NoiseVolts.DBV(), unit)},
		audioRow{"noise, weighted A", decibels(c.NoiseAVolts.DBV(), unit)},
		audioRow{"signal to noise", decibels(c.SNRDecibels, "dB")},
		audioRow{"hum, all lines", humText(c, unit)},
		audioRow{"THD", figureOrNot(percentAsRatio(c.THDPercent), device.Ratio)},
		audioRow{"THD+N", figureOrNot(percentAsRatio(c.THDNPercent), device.Ratio)})
}

func percentAsRatio(m audio.Measured) audio.Measured {
	return audio.Measured{Value: m.Value / 100, U: m.U / 100}
}

// figureOrNot prints a figure; what was not measured says so.
func figureOrNot(m audio.Measured, unit device.Unit) string {
	if !m.OK() || math.IsInf(m.Value, 0) {
		return "not measured"
	}
	return checks.Figure(m.Value, worthPrinting(m), unit)
}

// worthPrinting is a figure's uncertainty, or 0 where noise and spread leave it so
// small that the recorder's gain and clock, which nobody gave, are off by far more.
func worthPrinting(m audio.Measured) float64 {
	if m.U < 1e-5*math.Abs(m.Value) {
		return 0
	}
	return m.U
}

func decibels(m audio.Measured, unit string) string {
	if !m.OK() {
		return "not measured"
	}
	return audio.DecibelText(m, unit)
}

// humText tells no hum from hum that could not be measured.
func humText(c audio.ChannelResult, unit string) string {
	if c.HumVolts.OK() && len(c.Hum) == 0 {
		return "none found"
	}
	return decibels(c.HumVolts.DBV(), unit)
}
