package main

import (
	"context"
	"fmt"
	"io"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"soakline/config"
	"soakline/logger/book"
	"soakline/logger/page"
)

func shipCommand() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "ship",
		Short: "See how the readings get to the engines that bench.yaml names under ship",
		Args:  noArguments,
		RunE:  func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	cmd.AddCommand(shipStatusCommand(), shipRefusedCommand(), shipAnewCommand())
	return cmd
}

func shipStatusCommand() *cobra.Command {
	var flags benchFlags
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "status",
		Short: "Say for each target what it does not have yet, and what holds it up",
		Long: "Asks the daemon that holds the bench. Where none is running it says what the book\n" +
			"knows: how many readings each target of bench.yaml is not known to have.",
		Example: "  soakline ship status --json",
		Args:    noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			bench, err := flags.load(cmd)
			if err != nil {
				return err
			}
			views, err := shippingOf(cmd.Context(), bench)
			if err != nil {
				return err
			}
			if asJSON {
				return printJSON(cmd.OutOrStdout(), views)
			}
			return printShipping(cmd.OutOrStdout(), views, time.Now())
		},
	}
	flags.addTo(cmd)
	cmd.Flags().BoolVar(&asJSON, "json", false, "write JSON")
	return cmd
}

// shippingOf asks the daemon, or the book if there is none.
func shippingOf(ctx context.Context, bench config.Bench) ([]page.ShippingView, error) {
	d, err := findDaemon(ctx, bench)
	if err != nil {
		return nil, err
	}
	views := []page.ShippingView{}
	if d != nil {
		return views, d.get(ctx, "/api/v1/shipping", &views)
	}
	err = withBook(ctx, bench.Book, book.Options{ReadOnly: true, Program: program()}, func(ctx context.Context, b *book.Book) error {
		known, err := b.ShipTargets(ctx)
		if err != nil {
			return err
		}
		refused := map[string]int64{}
		for _, t := range known {
			refused[t.Name] = t.Refused
		}
		for _, target := range bench.Ship {
			out, err := b.Outgoing(ctx, target.Name)
			if err != nil {
				return err
			}
			if err := out.Refresh(ctx); err != nil {
				return err
			}
			view := page.ShippingView{Target: target.Name, Address: target.Address(), PendingReadings: out.Pending(),
				RefusedLines: refused[target.Name], BatchLines: target.BatchLines, Trouble: "no daemon is running"}
			if us, ok := out.Oldest(); ok {
				at := time.UnixMicro(us).UTC()
				view.OldestPending = &at
			}
			views = append(views, view)
		}
		return nil
	})
	return views, err
}

func printShipping(w io.Writer, views []page.ShippingView, now time.Time) error {
	if len(views) == 0 {
		_, err := fmt.Fprintln(w, "the bench ships nowhere: there is no ship in its file")
		return err
	}
	table := tabwriter.NewWriter(w, 0, 0, 3, ' ', 0)
	fmt.Fprintln(table, "target\taddress\tnot there yet\tbehind\trefused\theld up by")
	for _, v := range views {
		behind, trouble := "-", "-"
		if v.OldestPending != nil {
			behind = inWords(now.Sub(*v.OldestPending))
		}
		if v.Trouble != "" {
			trouble = v.Trouble
		}
		fmt.Fprintf(table, "%s\t%s\t%d readings\t%s\t%d lines\t%s\n", v.Target, v.Address, v.PendingReadings, behind, v.RefusedLines, trouble)
	}
	return table.Flush()
}

func shipRefusedCommand() *cobra.Command {
	var flags benchFlags
	var target string
	var most int
	var asJSON bool
	cmd := &cobra.Command{
		Use:     "refused",
		Short:   "List the lines that targets would not take, the latest first, with their words",
		Long:    "A line that a target refuses is set aside, so that it does not hold up the others.\nThe reading itself is in the book all the same.",
		Example: "  soakline ship refused --target store --most 20",
		Args:    noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return flags.readBook(cmd, func(ctx context.Context, b *book.Book) error {
				lines, err := b.Refused(ctx, target, most)
				if err != nil {
					return err
				}
				if asJSON {
					return printJSON(cmd.OutOrStdout(), refusedViews(lines))
				}
				for _, l := range lines {
					fmt.Fprintf(cmd.OutOrStdout(), "%s  %s: %s\n  %s\n", l.At.Format(time.RFC3339), l.Target, l.Reason, l.Line)
				}
				return nil
			})
		},
	}
	flags.addTo(cmd)
	cmd.Flags().StringVar(&target, "target", "", "only this target's")
	cmd.Flags().IntVar(&most, "most", 100, "how many at most")
	cmd.Flags().BoolVar(&asJSON, "json", false, "write JSON")
	return cmd
}

// refusedView is a line that was set aside, as JSON.
type refusedView struct {
	Target string    `json:"target"`
	At     time.Time `json:"at"`
	Reason string    `json:"reason"`
	Line   string    `json:"line"`
}

func refusedViews(lines []book.RefusedLine) []refusedView {
	views := make([]refusedView, len(lines))
	for i, l := range lines {
		views[i] = refusedView{l.Target, l.At, l.Reason, l.Line}
	}
	return views
}

func shipAnewCommand() *cobra.Command {
	var flags benchFlags
	cmd := &cobra.Command{
		Use:   "anew TARGET",
		Short: "Have all of the book shipped to a target once more",
		Long: "For an engine that lost its data, or refused what it would take now. What it has\n" +
			"already it gets in equal lines, so that nothing is there twice. No daemon may have\n" +
			"the book open; the next start ships.",
		Example: "  soakline ship anew store",
		Args:    oneArgument,
		RunE: func(cmd *cobra.Command, args []string) error {
			path, err := flags.bookPath(cmd)
			if err != nil {
				return err
			}
			return withBook(cmd.Context(), path, book.Options{Program: program()}, func(ctx context.Context, b *book.Book) error {
				return b.ShipAnew(ctx, args[0])
			})
		},
	}
	flags.addTo(cmd)
	return cmd
}
