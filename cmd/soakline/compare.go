package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"soakline/checks"
	"soakline/checks/audio"
	"soakline/config"
	"soakline/logger"
	"soakline/logger/book"
	"soakline/logger/page"
)

func compareCommand() *cobra.Command {
	var flags benchFlags
	var unit, plot string
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "compare --unit ASSET-NUMBER LABEL LABEL",
		Short: "Set two rounds of a unit side by side",
		Long: `Set two rounds of a unit side by side, by the test sheet of the second. Behind ± is
the expanded uncertainty (k = 2) of the change; a change that is smaller cannot be
told. The two figures are taken as independent, although one instrument's error is
mostly the same in both: that makes ± too large, never too small (JCGM 100:2008,
5.2.2). Of audio outputs it is said in dB what changed and whether it matters.`,
		Example: `  soakline compare --unit B8-0147 "as received" "output capacitor replaced"`,
		Args:    func(cmd *cobra.Command, args []string) error { return wrongUsage(cobra.ExactArgs(2)(cmd, args)) },
		RunE: func(cmd *cobra.Command, args []string) error {
			return flags.readBook(cmd, func(ctx context.Context, b *book.Book) error {
				comparison, sheet, err := compareRounds(ctx, b, unit, args[0], args[1])
				if err != nil {
					return err
				}
				if err := plotAudioRounds(ctx, plot, b, sheet, comparison); err != nil {
					return err
				}
				view := page.ViewComparison(comparison)
				if asJSON {
					return printJSON(cmd.OutOrStdout(), view)
				}
				return printComparison(cmd.OutOrStdout(), view)
			})
		},
	}
	flags.addTo(cmd)
	cmd.Flags().StringVar(&unit, "unit", "", "asset number")
	cmd.Flags().StringVar(&plot, "plot", "", "draw the spectra of the audio outputs, before and after, into this file (.svg or .png)")
	addJSONFlag(cmd, &asJSON)
	mustRequire(cmd, "unit")
	return cmd
}

// compareRounds sets two rounds of the book side by side, by the sheet of the second.
func compareRounds(ctx context.Context, b *book.Book, unit, before, after string) (logger.Comparison, checks.Sheet, error) {
	first, err := roundOf(ctx, b, unit, before)
	if err != nil {
		return logger.Comparison{}, checks.Sheet{}, err
	}
	second, err := roundOf(ctx, b, unit, after)
	if err != nil {
		return logger.Comparison{}, checks.Sheet{}, err
	}
	sheet, err := config.ParseSheet(second.Sheet.Name, second.Sheet.Text)
	if err != nil {
		return logger.Comparison{}, sheet, err
	}
	comparison := logger.Compare(sheet, first, second)
	return comparison, sheet, comparison.CompareAudio(ctx, b, sheet)
}

// roundOf is a round of the book; where there is none of that label, those that
// there are are named.
func roundOf(ctx context.Context, b *book.Book, unit, label string) (book.Round, error) {
	round, err := b.Round(ctx, checks.UnitID(unit), label)
	if !errors.Is(err, book.ErrNotFound) {
		return round, err
	}
	rounds, listErr := b.Rounds(ctx, checks.UnitID(unit))
	if listErr != nil {
		return round, errors.Join(err, listErr)
	}
	var labels []string
	for _, r := range rounds {
		labels = append(labels, fmt.Sprintf("%q", r.Label))
	}
	if len(labels) == 0 {
		return round, fmt.Errorf("unit %s has no rounds in this book: %w", unit, err)
	}
	return round, fmt.Errorf("unit %s has no round %q; it has %s", unit, label, strings.Join(labels, ", "))
}

// printComparison writes the table; what two instruments were used for is said
// under it.
func printComparison(out io.Writer, view page.ComparisonView) error {
	fit := fitting(out)
	var text strings.Builder
	table := tabwriter.NewWriter(&text, 0, 0, 3, ' ', 0)
	fmt.Fprintf(table, "\t%s\t%s\tchange\n", view.Before, view.After)
	var two []string
	for _, line := range view.Lines {
		change := line.Text
		if line.Change == nil {
			change = ""
		}
		fmt.Fprintln(table, fit(fmt.Sprintf("%s\t%s\t%s\t%s\t%s", line.TestPoint+" "+line.Measure,
			withoutUncertainty(line.Before.Text), withoutUncertainty(line.After.Text), change, line.Meaning)))
		if line.Change != nil && !line.OneInstrument {
			two = append(two, fmt.Sprintf("%s %s (%s, %s)", line.TestPoint, line.Measure, line.Before.Instrument, line.After.Instrument))
		}
	}
	if err := table.Flush(); err != nil {
		return err
	}
	for line := range strings.Lines(text.String()) {
		fmt.Fprintln(out, strings.TrimRight(line, " \n"))
	}
	for _, change := range view.Audio {
		if change.Told && math.Abs(*change.Change) >= audio.AudibleDecibels {
			fmt.Fprint(out, "\n", fit(paragraph("", change.Text)))
		}
	}
	if len(two) > 0 {
		fmt.Fprint(out, "\n", paragraph("", "Read with two instruments, whose own errors do not cancel and, in figures from scope records, are not in the uncertainty: "+strings.Join(two, ", ")))
	}
	return nil
}
