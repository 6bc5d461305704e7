package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"strconv"
	"strings"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"soakline/checks"
	"soakline/config"
	"soakline/logger"
	"soakline/logger/book"
	"soakline/logger/page"
)

func soakCommand() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "soak",
		Short: "Leave units on a soak, look at it, end it",
		Args:  noArguments,
		RunE:  func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	cmd.AddCommand(soakBeginCommand(), soakEndCommand(), soakStatusCommand(), soakListCommand(), soakShowCommand())
	return cmd
}

func soakBeginCommand() *cobra.Command {
	var flags benchFlags
	var units []string
	var length time.Duration
	var follow bool
	cmd := &cobra.Command{
		Use:   "begin --unit ASSET-NUMBER[@PLACE] …",
		Short: "Begin the soak of one or more units",
		Long: `Begin the soak of one or more units. With a daemon running the soak is left to it;
--follow watches it to the end. Without one the bench runs in this process until
the last soak has its verdict, which is then the exit code: 0 pass, 1 fail,
3 undecided. A soak runs attended, or where there is fire detection and a
cut-off: a program that stops logging does not remove power.`,
		Example: "  soakline soak begin --unit B8-0147 --unit CC-0031@right --for 24h",
		Args:    noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			bench, err := flags.load(cmd)
			if err != nil {
				return err
			}
			requests, err := soakRequests(units, length)
			if err != nil {
				return wrongUsage(err)
			}
			d, err := findDaemon(cmd.Context(), bench)
			if err != nil {
				return err
			}
			if d == nil {
				return soakHere(cmd, bench, requests)
			}
			return soakThere(cmd, d, requests, follow)
		},
	}
	flags.addTo(cmd)
	cmd.Flags().StringArrayVar(&units, "unit", nil, "asset number, with @PLACE where it matters; may be given several times")
	cmd.Flags().DurationVar(&length, "for", 0, "how long (default: as the test sheet says)")
	cmd.Flags().BoolVar(&follow, "follow", false, "watch until the verdict; the exit code is the verdict's")
	mustRequire(cmd, "unit")
	return cmd
}

// soakRequests reads ASSET-NUMBER[@PLACE].
func soakRequests(units []string, length time.Duration) ([]page.SoakRequest, error) {
	if length < 0 {
		return nil, fmt.Errorf("--for %s: a soak lasts longer than nothing", length)
	}
	var requests []page.SoakRequest
	for _, text := range units {
		unit, place, _ := strings.Cut(text, "@")
		if unit == "" {
			return nil, fmt.Errorf("--unit %q: there is no asset number", text)
		}
		requests = append(requests, page.SoakRequest{Unit: unit, Place: place, ForS: length.Seconds()})
	}
	return requests, nil
}

func unitsOf(requests []page.SoakRequest) []string {
	var units []string
	for _, request := range requests {
		units = append(units, request.Unit)
	}
	return units
}

// soakThere begins soaks at the daemon.
func soakThere(cmd *cobra.Command, d *daemon, requests []page.SoakRequest, follow bool) error {
	for _, request := range requests {
		var begun page.SoakRecordView
		if err := d.post(cmd.Context(), "/api/v1/soaks", request, &begun); err != nil {
			return err
		}
		fmt.Fprintf(cmd.OutOrStdout(), "%s soaks at %s for %s, sheet %s\n", begun.Unit, begun.Place,
			inWords(time.Duration(begun.PlannedS*float64(time.Second))), begun.Sheet)
	}
	if !follow {
		return nil
	}
	return followToVerdict(cmd.Context(), cmd.OutOrStdout(), unitsOf(requests), func(ctx context.Context) (page.BenchView, error) {
		var view page.BenchView
		err := d.get(ctx, "/api/v1/bench", &view)
		return view, err
	})
}

// soakHere runs the bench in this process until the soaks have their verdicts.
func soakHere(cmd *cobra.Command, bench config.Bench, requests []page.SoakRequest) error {
	log := newLog(cmd.ErrOrStderr(), false, false)
	if onTerminal(cmd.OutOrStdout()) {
		log = slog.New(slog.DiscardHandler) // the tapes show it; the events are in the book
	}
	var outcome error
	err := serve(cmd.Context(), bench, log, func(ctx context.Context, r *running) error {
		for _, request := range requests {
			if _, err := r.BeginSoak(ctx, soakRequest(request)); err != nil {
				return err
			}
		}
		outcome = followToVerdict(ctx, cmd.OutOrStdout(), unitsOf(requests), r.look)
		return nil
	})
	if err != nil {
		return err
	}
	if errors.Is(outcome, context.Canceled) {
		fmt.Fprintf(cmd.ErrOrStderr(), "soakline: the soak of %s has not ended: soakline serve goes on with it, soakline soak end ends it\n",
			strings.Join(unitsOf(requests), ", "))
	}
	return outcome
}

func soakRequest(r page.SoakRequest) logger.SoakRequest {
	return logger.SoakRequest{Unit: checks.UnitID(r.Unit), Place: r.Place, For: time.Duration(r.ForS * float64(time.Second))}
}

// look is how the bench stands, in the form that every screen takes.
func (r *running) look(ctx context.Context) (page.BenchView, error) {
	snapshot, err := r.Snapshot(ctx)
	return page.View(snapshot), err
}

// followToVerdict shows soaks to their end; the error is their exit code.
func followToVerdict(ctx context.Context, w io.Writer, units []string, look func(context.Context) (page.BenchView, error)) error {
	f := newFollower(w, units)
	if err := f.follow(ctx, look); err != nil {
		return err
	}
	for _, unit := range units {
		printVerdict(w, f.verdicts[unit])
	}
	return outcomeExit(outcomesOf(f.verdicts)...)
}

func soakStatusCommand() *cobra.Command {
	var flags benchFlags
	var asJSON bool
	cmd := &cobra.Command{
		Use:     "status",
		Short:   "Show the soaks under way, check by check",
		Example: "  soakline soak status",
		Args:    noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			bench, err := flags.load(cmd)
			if err != nil {
				return err
			}
			d, err := findDaemon(cmd.Context(), bench)
			if err != nil {
				return err
			}
			if d == nil {
				return fmt.Errorf("no daemon holds bench %s; soakline soak list shows what the book holds", bench.Bench)
			}
			var view page.BenchView
			if err := d.get(cmd.Context(), "/api/v1/bench", &view); err != nil {
				return err
			}
			if asJSON {
				return printJSON(cmd.OutOrStdout(), view)
			}
			return printBench(cmd.OutOrStdout(), view)
		},
	}
	flags.addTo(cmd)
	addJSONFlag(cmd, &asJSON)
	return cmd
}

// printBench shows every soak's tape and under it its checks.
func printBench(w io.Writer, view page.BenchView) error {
	marks, plain := plainTape, true
	if onTerminal(w) && showsUnicode() {
		marks, plain = drawnTape, false
	}
	for _, soak := range view.Soaks {
		fmt.Fprintln(w, soakLine(soak, view.At, marks))
		table := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
		for _, check := range soak.Checks {
			bracket, figure := check.Bracket, check.Text
			if plain {
				bracket, figure = checks.ASCII(bracket), checks.ASCII(figure)
			}
			fmt.Fprintf(table, "  %s\t%s\t%s\t%s\n", checkName(check), figure, bracket, check.State)
		}
		if err := table.Flush(); err != nil {
			return err
		}
		printSoakDrift(w, soak)
		printSoakFindings(w, soak)
	}
	for _, instrument := range view.Instruments {
		if !instrument.Up {
			fmt.Fprintf(w, "instrument %s does not answer: %s\n", instrument.Name, instrument.Trouble)
		}
	}
	for _, verdict := range view.Finished {
		printVerdict(w, verdict)
	}
	if len(view.Soaks)+len(view.Finished) == 0 {
		fmt.Fprintln(w, "no unit is on a soak")
	}
	return nil
}

func soakListCommand() *cobra.Command {
	var flags benchFlags
	var unit string
	var asJSON bool
	cmd := &cobra.Command{
		Use:     "list",
		Short:   "List the soaks in the book",
		Example: "  soakline soak list --unit B8-0147",
		Args:    noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return flags.readBook(cmd, func(ctx context.Context, b *book.Book) error {
				soaks, err := page.ViewSoaks(ctx, b, checks.UnitID(unit))
				if err != nil {
					return err
				}
				if asJSON {
					return printJSON(cmd.OutOrStdout(), soaks)
				}
				return printSoaks(cmd.OutOrStdout(), soaks)
			})
		},
	}
	flags.addTo(cmd)
	cmd.Flags().StringVar(&unit, "unit", "", "asset number (default: all)")
	addJSONFlag(cmd, &asJSON)
	return cmd
}

func printSoaks(w io.Writer, soaks []page.SoakRecordView) error {
	table := tabwriter.NewWriter(w, 0, 0, 3, ' ', 0)
	for _, soak := range soaks {
		outcome := string(soak.Outcome)
		if outcome == "" {
			outcome = "no verdict"
		}
		end := "running"
		if soak.End != nil {
			end = "to " + soak.End.Local().Format(dayAndTime)
		}
		fmt.Fprintf(table, "soak %d\t%s\t%s\t%s\t%s\t%s\t%s\n", soak.Soak, soak.Unit, soak.Place, soak.Begin.Local().Format(dayAndTime), end, outcome, soak.Reason)
	}
	return table.Flush()
}

func soakShowCommand() *cobra.Command {
	var flags benchFlags
	var asJSON bool
	cmd := &cobra.Command{
		Use:     "show SOAK",
		Short:   "Show a soak's verdict and excursions as the book holds them",
		Example: "  soakline soak show 12",
		Args:    oneArgument,
		RunE: func(cmd *cobra.Command, args []string) error {
			id, err := soakID(args[0])
			if err != nil {
				return err
			}
			return flags.readBook(cmd, func(ctx context.Context, b *book.Book) error {
				kept, err := b.Verdict(ctx, id)
				if err != nil {
					return err
				}
				view := page.ViewVerdict(kept.Verdict)
				view.Soak = int64(id)
				if asJSON {
					return printJSON(cmd.OutOrStdout(), view)
				}
				printVerdict(cmd.OutOrStdout(), view)
				return nil
			})
		},
	}
	flags.addTo(cmd)
	addJSONFlag(cmd, &asJSON)
	return cmd
}

// soakID reads a soak's number.
func soakID(text string) (book.SoakID, error) {
	n, err := strconv.ParseInt(text, 10, 64)
	if err != nil || n < 1 {
		return 0, wrongUsage(fmt.Errorf("%q is no number of a soak; soakline soak list shows them", text))
	}
	return book.SoakID(n), nil
}
