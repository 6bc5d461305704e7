package main

import (
	"fmt"
	"io"
	"math"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"soakline/checks"
	"soakline/checks/audio"
	"soakline/checks/parts"
	"soakline/device"
	"soakline/logger/page"
)

// audioMore is what is reckoned from an audio record besides its own figures.
type audioMore struct {
	before     string
	response   bool
	sourceOhms float64
	loadOhms   float64
}

func (m *audioMore) addTo(cmd *cobra.Command) {
	cmd.Flags().StringVar(&m.before, "before", "", "an earlier record of the same kind: say what has changed, and whether it matters")
	cmd.Flags().BoolVar(&m.response, "response", false, "the record holds stepped tones or a slow sweep: give the level over frequency")
	quantity(cmd, &m.sourceOhms, parts.Ohm, "source-ohm", "the output's own resistance: say what the load takes off the level")
	quantity(cmd, &m.loadOhms, parts.Ohm, "load-ohm", "what the output was loaded with while it was recorded")
	cmd.MarkFlagsRequiredTogether("source-ohm", "load-ohm")
}

func (m *audioMore) asked() bool { return m.before != "" || m.response || m.loadOhms != 0 }

// audioReport is the answer as JSON where more than one record's figures was asked
// for.
type audioReport struct {
	Record   audio.Result           `json:"record"`
	Before   *audio.Result          `json:"before,omitempty"`
	Changes  []page.AudioChangeView `json:"changes,omitempty"`
	Response []responseRow          `json:"response,omitempty"`
	Loading  *loadingRow            `json:"loading,omitempty"`
}

type responseRow struct {
	Channel  string        `json:"channel"`
	Hertz    checks.Number `json:"hz"`
	Decibels checks.Number `json:"level_db"`
	U        checks.Number `json:"level_u_db"`
}

// loadingRow is what a load takes off the level of an output without it.
type loadingRow struct {
	SourceOhms float64 `json:"source_ohm"`
	LoadOhms   float64 `json:"load_ohm"`
	LevelDB    float64 `json:"level_db"`
}

// more reckons what was asked for besides.
func (f *audioFlags) more(cmd *cobra.Command, record audio.Record, result audio.Result) (audioReport, error) {
	all := audioReport{Record: result}
	if f.extra.before != "" {
		earlier, err := f.analyse(cmd, f.extra.before)
		if err != nil {
			return all, err
		}
		changes, err := audio.Compare(earlier, result)
		if err != nil {
			return all, fmt.Errorf("%s: %w", f.extra.before, err)
		}
		all.Before, all.Changes = &earlier, page.ViewAudioChanges(changes)
	}
	if f.extra.response {
		for i, channel := range record.Channels {
			points, err := audio.Response(record, i, 0)
			if err != nil {
				return all, fmt.Errorf("channel %s: %w", channel.Name, err)
			}
			for _, p := range points {
				all.Response = append(all.Response, responseRow{Channel: channel.Name, Hertz: checks.Number(p.Hertz),
					Decibels: checks.Number(p.Decibels.Value), U: checks.Number(p.Decibels.U)})
			}
		}
	}
	if f.extra.loadOhms != 0 {
		divider, err := parts.Divider{TopOhm: f.extra.sourceOhms, BottomOhm: f.extra.loadOhms, LoadOhm: math.Inf(1), InputV: 1}.Calculate()
		if err != nil {
			return all, wrongUsage(err)
		}
		all.Loading = &loadingRow{SourceOhms: f.extra.sourceOhms, LoadOhms: f.extra.loadOhms, LevelDB: divider.LevelDB}
	}
	return all, nil
}

// analyse reads and measures another record as the first is.
func (f *audioFlags) analyse(cmd *cobra.Command, path string) (audio.Result, error) {
	recording, err := f.read(cmd, path)
	if err != nil {
		return audio.Result{}, err
	}
	result, err := audio.Analyse(audio.FromRecording(recording), f.options)
	if err != nil {
		err = fmt.Errorf("%s: %w", path, err)
	}
	return result, err
}

// printMore writes what was asked for besides the record's own figures.
func printMore(w io.Writer, all audioReport) error {
	plain := fitting(w)
	for _, change := range all.Changes {
		fmt.Fprintln(w, plain(change.Text))
	}
	if len(all.Response) > 0 {
		table := tabwriter.NewWriter(w, 0, 0, 3, ' ', tabwriter.AlignRight)
		fmt.Fprintln(table, "channel\tfrequency\tagainst 1 kHz\t")
		for _, row := range all.Response {
			level := audio.DecibelText(audio.Measured{Value: float64(row.Decibels), U: float64(row.U)}, "dB")
			fmt.Fprintf(table, "%s\t%s\t%s\t\n", row.Channel, checks.Figure(float64(row.Hertz), 0, device.Hertz), plain(level))
		}
		if err := table.Flush(); err != nil {
			return err
		}
	}
	if l := all.Loading; l != nil {
		fmt.Fprintf(w, "A source of %s into %s: the load takes %.2f dB off the level without it.\n",
			plain(checks.Figure(l.SourceOhms, 0, device.Ohm)), plain(checks.Figure(l.LoadOhms, 0, device.Ohm)), -l.LevelDB)
	}
	return nil
}
