package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"soakline/checks"
	"soakline/logger/book"
)

func bookGapsCommand() *cobra.Command {
	var flags benchFlags
	var unit, point, from, to string
	var soak int64
	var longer time.Duration
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "gaps",
		Short: "Say where there are no readings for longer than a time",
		Long: "Lists for each series when it had no reading for longer than a time: an\n" +
			"instrument that was silent or unplugged, a daemon that did not run. With --from,\n" +
			"--to or --soak these moments are ends of a gap as well. What a soak's own sheet\n" +
			"takes for a gap is in soak show.",
		Example: "  soakline book gaps --longer-than 1m --unit B8-0147\n  soakline book gaps --longer-than 5s --soak 12 --json",
		Args:    noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if longer < time.Microsecond {
				return wrongUsage(errors.New("say with --longer-than how long: 5s, 10m"))
			}
			filter := book.Filter{Unit: checks.UnitID(unit), TestPoint: checks.TestPointName(point), Soak: book.SoakID(soak)}
			if err := errors.Join(readTime("--from", from, &filter.Since), readTime("--to", to, &filter.Until)); err != nil {
				return wrongUsage(err)
			}
			return flags.readBook(cmd, func(ctx context.Context, b *book.Book) error {
				gaps, err := b.FindGaps(ctx, filter, longer)
				if err != nil {
					return err
				}
				if asJSON {
					return printJSON(cmd.OutOrStdout(), viewGaps(gaps))
				}
				return printGaps(cmd.OutOrStdout(), gaps, longer)
			})
		},
	}
	flags.addTo(cmd)
	addJSONFlag(cmd, &asJSON)
	cmd.Flags().DurationVar(&longer, "longer-than", 0, "only gaps longer than this (must be given)")
	cmd.Flags().StringVar(&unit, "unit", "", "only this asset number")
	cmd.Flags().StringVar(&point, "test-point", "", "only this test point")
	cmd.Flags().Int64Var(&soak, "soak", 0, "only this soak")
	cmd.Flags().StringVar(&from, "from", "", "only from this moment on (2026-11-25T14:00:00Z, or 90m ago as 90m)")
	cmd.Flags().StringVar(&to, "to", "", "only before this moment")
	return cmd
}

// gapView is an interval without readings, as JSON.
type gapView struct {
	Unit       string    `json:"unit"`
	TestPoint  string    `json:"test_point"`
	Measure    string    `json:"measure"`
	Instrument string    `json:"instrument"`
	Bench      string    `json:"bench"`
	From       time.Time `json:"from"`
	To         time.Time `json:"to"`
	DurationS  float64   `json:"duration_s"`
}

func viewGaps(gaps []book.SeriesGap) []gapView {
	views := make([]gapView, len(gaps))
	for i, g := range gaps {
		views[i] = gapView{string(g.Tag.Unit), string(g.Tag.TestPoint), string(g.Tag.Measure), g.Tag.Instrument, g.Tag.Bench,
			g.From, g.To, g.To.Sub(g.From).Seconds()}
	}
	return views
}

func printGaps(w io.Writer, gaps []book.SeriesGap, longer time.Duration) error {
	if len(gaps) == 0 {
		_, err := fmt.Fprintf(w, "no gap longer than %v\n", longer)
		return err
	}
	table := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintln(table, "from\tto\tlasted\tunit\ttest point\tmeasure\tinstrument")
	for _, g := range gaps {
		fmt.Fprintf(table, "%s\t%s\t%v\t%s\t%s\t%s\t%s\n", g.From.Local().Format(dayAndTime), g.To.Local().Format(dayAndTime),
			g.To.Sub(g.From).Round(time.Millisecond), g.Tag.Unit, g.Tag.TestPoint, g.Tag.Measure, g.Tag.Instrument)
	}
	return table.Flush()
}
