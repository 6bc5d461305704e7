package main

import (
	"context"
	"fmt"
	"io"
	"time"

	"github.com/spf13/cobra"

	"soakline/config"
)

func doctorCommand() *cobra.Command {
	var flags benchFlags
	var asJSON, quick bool
	var bundle string
	patience := 10 * time.Second
	cmd := &cobra.Command{
		Use:   "doctor",
		Short: "Look at everything that the bench needs, and say what to do about what is wrong",
		Long: `Look at everything that the bench needs: its files, the clock, the disk, the book,
the ports and whether each instrument answers. Each finding that is not in order says
what to do about it. Instruments are asked who they are; while a daemon runs it is
asked how they stand. Nothing is changed. With --bundle the findings, the configuration
and what the book and the system's journal say of the last days go into one file that
can be shown to somebody; secrets are taken out of it.

The exit code is 0 where everything works, 2 where the configuration is wrong, and 4
where something else keeps the bench from working.`,
		Example: "  soakline doctor --bench bench.yaml\n  soakline doctor --bundle findings.zip",
		Args:    noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			path, err := config.FindBench(flags.bench)
			if err != nil {
				return wrongUsage(err)
			}
			loaded, loading := config.Load(path, cmd.Flags())
			d := &doctor{bench: loaded, path: path, quick: quick, patience: patience}
			d.look(cmd.Context(), loading)
			if bundle != "" {
				if err := d.writeBundle(cmd.Context(), bundle); err != nil {
					return err
				}
			}
			if !asJSON {
				d.print(cmd.OutOrStdout())
				return d.exit()
			}
			if err := printJSON(cmd.OutOrStdout(), d.found); err != nil {
				return err
			}
			return d.exit()
		},
	}
	flags.addTo(cmd)
	addJSONFlag(cmd, &asJSON)
	cmd.Flags().BoolVar(&quick, "quick", false, "do not read the whole book")
	cmd.Flags().StringVar(&bundle, "bundle", "", "zip file to write for somebody who helps")
	cmd.Flags().DurationVar(&patience, "patience", patience, "how long to wait for instruments")
	return cmd
}

// condition is how something that the bench needs stands.
type condition string

const (
	inOrder   condition = "in order"
	mind      condition = "mind"       // it works, and somebody should know
	wrong     condition = "wrong"      // it keeps the bench from working
	notLooked condition = "not looked" // what comes before it is wrong
)

// finding is one thing that was looked at.
type finding struct {
	About     string    `json:"about"`
	Condition condition `json:"condition"`
	Text      string    `json:"text"`
	// Advice says what to do; empty where nothing is to be done.
	Advice string `json:"advice,omitempty"`
}

// doctor looks at one bench.
type doctor struct {
	bench    config.Bench
	path     string
	quick    bool
	patience time.Duration
	found    []finding
	// misconfigured is true where the configuration is what is wrong.
	misconfigured bool
}

func (d *doctor) add(about string, c condition, advice, format string, args ...any) {
	d.found = append(d.found, finding{About: about, Condition: c, Text: fmt.Sprintf(format, args...), Advice: advice})
}

// look looks at one thing after the other, from what does not depend on anything.
func (d *doctor) look(ctx context.Context, loading error) {
	d.lookAtConfiguration(loading)
	d.lookAtSecrets()
	if d.bench.Book == "" {
		d.add("book", notLooked, "", "the configuration does not say where it is")
		d.lookAtClock(time.Time{})
		return
	}
	d.lookAtDisk()
	newest := d.lookAtBook(ctx)
	d.lookAtClock(newest)
	if d.misconfigured {
		d.add("instruments", notLooked, "", "the configuration has to be right first")
		return
	}
	d.lookAtPortNames(ctx)
	d.lookAtInstruments(ctx)
}

// exit is the exit code: configuration before everything else.
func (d *doctor) exit() error {
	if d.misconfigured {
		return &exitError{code: exitUsage}
	}
	for _, f := range d.found {
		if f.Condition == wrong {
			return &exitError{code: exitTrouble}
		}
	}
	return nil
}

func (d *doctor) print(w io.Writer) {
	for _, f := range d.found {
		fmt.Fprintf(w, "%-11s %s: %s\n", f.Condition, f.About, f.Text)
		if f.Advice != "" {
			fmt.Fprintf(w, "%-11s %s\n", "", f.Advice)
		}
	}
}
