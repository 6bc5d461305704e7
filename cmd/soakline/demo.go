package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os"
	"path/filepath"
	"time"

	"github.com/spf13/cobra"

	"soakline/checks"
	"soakline/config"
	"soakline/logger/book"
	"soakline/logger/page"
)

// demoUnit is a loan console of the demo and what its soak must end with.
type demoUnit struct {
	unit, place string
	console     checks.ConsoleName
	note        string
	expected    checks.Outcome
}

// demoUnits are one in order, and one whose 5 V rail drifts out while it soaks.
var demoUnits = []demoUnit{
	{"B8-0147", "left", "Brambling 8", "loan console, back from the summer; cleaned", checks.Pass},
	{"CC-0031", "right", "Corncrake II", "loan console; came back with a weak picture", checks.Fail},
}

func demoCommand() *cobra.Command {
	var length time.Duration
	var dir string
	var verbose bool
	cmd := &cobra.Command{
		Use:   "demo",
		Short: "The whole job on a simulated bench: instruments, soak, final test, verdicts",
		Long: `The whole job on a simulated bench: instruments behind real serial ports in another
process, two invented consoles of a seaside toy library, one in order and one
whose 5 V rail drifts out. It ends with the verdicts on soaks and final tests.`,
		Example: "  soakline demo --for 90s",
		Args:    noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if length < 0 {
				return wrongUsage(fmt.Errorf("--for %s: a soak lasts longer than nothing", length))
			}
			return demo(cmd, dir, length, verbose)
		},
	}
	cmd.Flags().DurationVar(&length, "for", 90*time.Second, "how long the soak lasts")
	cmd.Flags().String("listen", "127.0.0.1:0", "address of page and metrics")
	cmd.Flags().StringVar(&dir, "dir", "", "folder for ports and book (default: a new one)")
	cmd.Flags().BoolVar(&verbose, "verbose", false, "log what happens")
	return cmd
}

// demo runs the simulated bench, soaks its units and says how it ended.
func demo(cmd *cobra.Command, dir string, length time.Duration, verbose bool) (err error) {
	if dir, err = demoFolder(dir); err != nil {
		return err
	}
	sim, err := startSimulated(context.WithoutCancel(cmd.Context()), dir, cmd.ErrOrStderr())
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, sim.stop()) }()
	bench, err := config.LoadDemo(sim.Ports, dir)
	if err != nil {
		return err
	}
	if bench.Listen, err = cmd.Flags().GetString("listen"); err != nil {
		return err
	}
	if err := shortenSoaks(&bench, length); err != nil {
		return err
	}
	log := slog.New(slog.DiscardHandler)
	if verbose {
		log = newLog(cmd.ErrOrStderr(), false, true)
	}
	return serve(cmd.Context(), bench, log, func(ctx context.Context, r *running) error {
		return soakDemoUnits(ctx, cmd.OutOrStdout(), r, sim, bench, length)
	})
}

// demoFolder makes the folder for the demo's ports and book.
func demoFolder(dir string) (string, error) {
	if dir == "" {
		return os.MkdirTemp("", "soakline-demo-")
	}
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return "", err
	}
	return filepath.Abs(dir)
}

// soakDemoUnits books the units in, soaks them and shows how they fare.
func soakDemoUnits(ctx context.Context, out io.Writer, r *running, sim *simulated, bench config.Bench, length time.Duration) error {
	fmt.Fprintf(out, "simulated bench %s: metrics at http://%s/metrics, book %s\n", bench.Bench, r.address, bench.Book)
	if err := allUp(ctx, r); err != nil {
		return err
	}
	var units []string
	for _, d := range demoUnits {
		units = append(units, d.unit)
		if err := beginDemoSoak(ctx, r, d, length); err != nil {
			return err
		}
	}
	f := newFollower(out, units)
	if err := f.follow(ctx, r.look); err != nil {
		return err
	}
	for _, d := range demoUnits {
		printVerdict(out, f.verdicts[d.unit])
	}
	finals, err := demoFinals(ctx, out, r, sim)
	if err != nil {
		return err
	}
	last := demoUnits[1].unit
	fmt.Fprintf(out, "\nto look again:  soakline judge %d --book %s\n                soakline judge --final %d --book %s\n",
		f.verdicts[last].Soak, bench.Book, finals[last].Final, bench.Book)
	for _, d := range demoUnits {
		for _, got := range []checks.Outcome{f.verdicts[d.unit].Outcome, finals[d.unit].Outcome} {
			if got != d.expected {
				return &exitError{code: exitUndecided, err: fmt.Errorf("the demo should have ended with %s for %s, and ended with %s", d.expected, d.unit, got)}
			}
		}
	}
	return nil
}

// allUp waits until every instrument answers.
func allUp(ctx context.Context, r *running) error {
	ctx, cancel := context.WithTimeout(ctx, simulatedPatience)
	defer cancel()
	for {
		view, err := r.look(ctx)
		if err != nil {
			return err
		}
		down := ""
		for _, instrument := range view.Instruments {
			if !instrument.Up {
				down = fmt.Sprintf("%s: %s", instrument.Name, instrument.Trouble)
			}
		}
		if down == "" {
			return nil
		}
		select {
		case <-ctx.Done():
			return fmt.Errorf("an instrument of the simulated bench does not answer: %s", down)
		case <-time.After(50 * time.Millisecond):
		}
	}
}

func beginDemoSoak(ctx context.Context, r *running, d demoUnit, length time.Duration) error {
	err := r.AddUnit(ctx, book.Unit{ID: checks.UnitID(d.unit), Console: d.console, Notes: []book.Note{{Text: d.note}}})
	if err != nil && !errors.Is(err, book.ErrExists) {
		return err
	}
	_, err = r.BeginSoak(ctx, soakRequest(page.SoakRequest{Unit: d.unit, Place: d.place, ForS: length.Seconds()}))
	return err
}
