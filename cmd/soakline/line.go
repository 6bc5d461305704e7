package main

import (
	"context"
	"fmt"
	"io"
	"slices"
	"strings"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"soakline/checks/capability"
	"soakline/config"
	"soakline/logger"
	"soakline/logger/book"
	"soakline/logger/page"
)

func lineCommand() *cobra.Command {
	var flags benchFlags
	var since string
	var asJSON, suggest bool
	cmd := &cobra.Command{
		Use:   "line",
		Short: "Show how the line of units fares: yield, fails, spread, time on soak, units that came back",
		Long: fmt.Sprintf(`Show the figures of the line from the verdicts in the book. First-pass yield counts the
units whose first verdict was given in the time: right the first time are those whose
first soak and first final test, as far as they had them, passed; no rework is counted.
The interval of a yield is Wilson's score interval, that of Cp from the chi-squared
distribution and that of Cpk a normal approximation (NIST/SEMATECH e-Handbook, 6.1.6),
all at 95 %% confidence. An index is given from %d units on. --suggest writes limits
from the spread of good units, for you to look at and paste into a sheet; nothing is
changed by it.`, capability.FewestUnits),
		Example: "  soakline line --since 90d\n  soakline line --suggest > proposal.yaml",
		Args:    noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			now := time.Now()
			from, err := page.SinceTime(since, now)
			if err != nil {
				return wrongUsage(fmt.Errorf("--since %w", err))
			}
			return flags.readBook(cmd, func(ctx context.Context, b *book.Book) error {
				line, err := logger.LineOf(ctx, b, from, now, config.ParseSheet)
				if err != nil {
					return err
				}
				view := page.ViewLine(line)
				switch {
				case asJSON:
					return printJSON(cmd.OutOrStdout(), view)
				case suggest:
					return printSuggestions(cmd.OutOrStdout(), view)
				}
				return printLine(cmd.OutOrStdout(), view)
			})
		},
	}
	flags.addTo(cmd)
	cmd.Flags().StringVar(&since, "since", "", "from when on: 90d, 12h, 2026-09-01 (default: all that is in the book)")
	cmd.Flags().BoolVar(&suggest, "suggest", false, "write limits from the spread of good units, to look at and paste")
	addJSONFlag(cmd, &asJSON)
	return cmd
}

func printLine(w io.Writer, v page.LineFiguresView) error {
	var out strings.Builder
	if v.Units == 0 {
		out.WriteString("no unit had its first verdict in this time\n")
	} else {
		fmt.Fprintf(&out, "%s, %d passed first time (%s %s); %d failed, %d undecided, %d of these passed later\n", countOf(v.Units, "unit"), v.Passed,
			sharePercent(v.YieldRatio), percentInterval(v.YieldInterval), v.Failed, v.Undecided, v.PassedLater)
	}
	printFails(&out, "fails by test point", v.Fails)
	printFails(&out, "what the records of failing units say", v.Diagnoses)
	fmt.Fprintf(&out, "on soak: %s, %s in all", countOf(v.Soaks, "soak"), inWords(seconds(v.SoakS)))
	if v.SoakedUnits > 0 {
		fmt.Fprintf(&out, ", %s a unit (median of %d)", inWords(seconds(v.MedianSoakS)), v.SoakedUnits)
	}
	out.WriteString("\n")
	if err := printSpreads(&out, v.Spreads, fitting(w)); err != nil {
		return err
	}
	for _, r := range v.Returned {
		fmt.Fprintf(&out, "came back: %s (%s), passed %s, again on %s: %s\n", r.Unit, r.Console, r.Passed.Local().Format(time.DateOnly), r.Again.Local().Format(time.DateOnly), r.Outcome)
	}
	_, err := io.WriteString(w, out.String())
	return err
}

func countOf(n int, what string) string {
	if n != 1 {
		what += "s"
	}
	return fmt.Sprintf("%d %s", n, what)
}

func seconds(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }

// sharePercent writes a share to a tenth of a percent.
func sharePercent(share *float64) string {
	if share == nil {
		return "not known"
	}
	return fmt.Sprintf("%.1f %%", *share*100)
}

func percentInterval(i *page.IntervalView) string {
	if i == nil {
		return "[not known]"
	}
	return fmt.Sprintf("[%.0f, %.0f]", i.Low*100, i.High*100)
}

// printFails writes what failed, the most frequent first.
func printFails(out *strings.Builder, head string, fails []page.FailView) {
	if len(fails) == 0 {
		return
	}
	fmt.Fprintf(out, "%s:\n", head)
	for _, f := range fails {
		fmt.Fprintf(out, "  %-40s %s\n", f.Name, countOf(f.Units, "unit"))
	}
}

// fewestShown is from how many units on a spread is worth a line on a screen.
const fewestShown = 3

// printSpreads writes a table of the spread at each check.
func printSpreads(out *strings.Builder, spreads []page.SpreadView, fit func(string) string) error {
	shown := slices.DeleteFunc(slices.Clone(spreads), func(s page.SpreadView) bool { return s.Units < fewestShown })
	if left := len(spreads) - len(shown); left > 0 {
		fmt.Fprintf(out, "%s of fewer than %d units: --json has what there is\n", countOf(left, "check"), fewestShown)
	}
	if len(shown) == 0 {
		return nil
	}
	table := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(table, "console\ttest point\tunits\tmean\tsd\tCp\tCpk")
	for _, s := range shown {
		fmt.Fprintf(table, "%s\t%s %s\t%d\t%s\t%s\t%s\t%s\n", s.Console, s.TestPoint, s.Measure, s.Units, fit(s.MeanText), fit(s.SDText),
			indexText(s.Cp, s.CpInterval, s.Units), indexText(s.Cpk, s.CpkInterval, s.Units))
	}
	return table.Flush()
}

// indexText writes an index with its interval.
func indexText(index *float64, in *page.IntervalView, units int) string {
	switch {
	case index == nil && units < capability.FewestUnits:
		return "too few units"
	case index == nil || in == nil:
		return "-"
	}
	return fmt.Sprintf("%.2f [%.2f, %.2f]", *index, in.Low, in.High)
}

// printSuggestions writes the suggested limits, or says that there are none.
func printSuggestions(w io.Writer, v page.LineFiguresView) error {
	found := false
	for _, s := range v.Spreads {
		if s.Suggested != "" {
			found = true
			if _, err := fmt.Fprintln(w, s.Suggested); err != nil {
				return err
			}
		}
	}
	if !found {
		return fmt.Errorf("no check has the %d good units with a spread that a suggestion needs", capability.FewestUnits)
	}
	return nil
}
