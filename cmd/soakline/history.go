package main

import (
	"context"
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"soakline/checks"
	"soakline/config"
	"soakline/logger"
	"soakline/logger/book"
	"soakline/logger/page"
)

func historyCommand() *cobra.Command {
	var flags benchFlags
	var unit, point, since string
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "history --unit ASSET-NUMBER",
		Short: "Show a unit's figures over rounds, soaks and discharges, their trends, and when a limit is met",
		Long: `Show how each figure of a unit has changed over its rounds, soaks and discharges:
the mean of a soak, the figure of a round, the capacitance that a discharge gave. A
trend over months has an interval at 95 %; where there is none, or too few figures,
that is said. Where the test sheet follows a capacitor (wear), its figures are
brought to one temperature, and its end of life is forecast. Rounds of a trial are
left out. After a part has been replaced, --since says from when on it counts.`,
		Example: `  soakline history --unit B8-0147
  soakline history --unit B8-0147 --test-point reservoir --since 2026-03-01T00:00:00Z --json`,
		Args: noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			o := logger.HistoryOptions{TestPoint: checks.TestPointName(point), Parse: config.ParseSheet}
			if err := readTime("--since", since, &o.Since); err != nil {
				return wrongUsage(err)
			}
			return flags.readBook(cmd, func(ctx context.Context, b *book.Book) error {
				history, err := flags.history(ctx, cmd, b, checks.UnitID(unit), o)
				if err != nil {
					return err
				}
				view := page.ViewHistory(history)
				if asJSON {
					return printJSON(cmd.OutOrStdout(), view)
				}
				return printHistory(cmd.OutOrStdout(), view)
			})
		},
	}
	flags.addTo(cmd)
	cmd.Flags().StringVar(&unit, "unit", "", "asset number")
	cmd.Flags().StringVar(&point, "test-point", "", "only this test point")
	cmd.Flags().StringVar(&since, "since", "", "only from this moment on (2026-11-25T14:00:00Z, or 90m ago as 90m)")
	addJSONFlag(cmd, &asJSON)
	mustRequire(cmd, "unit")
	return cmd
}

// history gathers a unit's history by the bench's sheet; without a bench's file, or
// without a sheet for the console, by the newest one in the book.
func (f *benchFlags) history(ctx context.Context, cmd *cobra.Command, b *book.Book, unit checks.UnitID, o logger.HistoryOptions) (logger.History, error) {
	if f.book == "" || f.bench != "" {
		bench, err := f.load(cmd)
		if err != nil {
			return logger.History{}, err
		}
		u, err := b.Unit(ctx, unit)
		if err != nil {
			return logger.History{}, err
		}
		o.Sheet, _ = bench.SheetFor(u.Console)
	}
	return logger.HistoryFromBook(ctx, b, unit, o)
}

// printHistory writes a block for each figure: its days, then its trend.
func printHistory(out io.Writer, view page.HistoryView) error {
	plain := plainFor(out)
	if len(view.Courses) == 0 {
		_, err := fmt.Fprintf(out, "%s: nothing has been measured yet\n", view.Unit)
		return err
	}
	var text strings.Builder
	for _, c := range view.Courses {
		fmt.Fprintf(&text, "%s %s\n", c.TestPoint, c.Measure)
		table := tabwriter.NewWriter(&text, 0, 0, 3, ' ', 0)
		for _, f := range c.Figures {
			fmt.Fprintf(table, "  %s\t%s\t%s\n", f.At.Local().Format(dayAndTime), historySource(f), f.Text)
		}
		if err := table.Flush(); err != nil {
			return err
		}
		fmt.Fprintf(&text, "  %s\n\n", c.Trend.Text)
	}
	for _, w := range view.Wear {
		writeWear(&text, w)
	}
	_, err := io.WriteString(out, plain(strings.TrimRight(text.String(), "\n")+"\n"))
	return err
}

func historySource(f page.HistoryFigureView) string {
	switch f.Kind {
	case logger.OfSoak:
		return fmt.Sprintf("soak %d", f.Soak)
	case logger.OfRound:
		return fmt.Sprintf("round %q", f.Round)
	default:
		return string(f.Kind)
	}
}

// writeWear writes how a capacitor has changed, with the source of its limits.
func writeWear(text *strings.Builder, w page.WearView) {
	fmt.Fprintf(text, "wear of the capacitor at %s, limits by %s\n", w.TestPoint, w.Source)
	for _, figure := range []*page.WornView{w.Capacitance, w.ESR, w.Leakage} {
		if figure == nil {
			continue
		}
		at := ""
		if figure.PerCelsius != nil {
			at = fmt.Sprintf(" (at %g °C, %.2g %% a degree taken out)", w.ReferenceCelsius, 100**figure.PerCelsius)
		}
		fmt.Fprintf(text, "  %s%s: %s\n", figure.Measure, at, figure.Trend.Text)
	}
	for _, f := range w.Findings {
		if f.State == checks.Within {
			continue // what the trend says already
		}
		fmt.Fprintf(text, "  %s\n    %s\n", f.Text, f.Advice)
	}
	fmt.Fprintln(text)
}
