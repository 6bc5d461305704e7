package main

import (
	"context"
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"soakline/checks"
	"soakline/config"
	"soakline/logger/book"
	"soakline/logger/page"
)

// printPoint shows what was found at a test point: a line for each check with its
// bracket, what was measured besides, what it means, and what could not be read.
func printPoint(out io.Writer, point page.PointView) {
	fit := fitting(out)
	var besides []string
	for _, f := range point.Figures {
		if f.Asked {
			fmt.Fprintln(out, fit(figureLine(f)))
		} else if f.Value != nil {
			besides = append(besides, f.Measure+" "+withoutUncertainty(f.Text))
		}
	}
	if len(besides) > 0 {
		fmt.Fprint(out, fit(paragraph("  ", "besides: "+strings.Join(besides, ", "))))
	}
	if len(point.Findings) > 0 {
		fmt.Fprintln(out, "  what most of the records say:")
	}
	for _, finding := range point.Findings {
		fmt.Fprint(out, fit(paragraph("    ", finding.Text+" "+finding.Advice)))
	}
	for _, remark := range point.Remarks {
		fmt.Fprint(out, fit(paragraph("  ", remark)))
	}
	if point.Trouble != "" {
		fmt.Fprint(out, fit(paragraph("  ", point.TestPoint+" could not be read: "+point.Trouble)))
	}
}

// printSoakFindings shows what the latest scope records of a soak say.
func printSoakFindings(out io.Writer, soak page.SoakView) {
	fit := fitting(out)
	for _, point := range slices.Sorted(maps.Keys(soak.Findings)) {
		for _, finding := range soak.Findings[point] {
			fmt.Fprint(out, fit(paragraph("  ", point+": "+finding.Text+" "+finding.Advice)))
		}
	}
}

// figureLine is a figure on one line: name, figure, bracket, state.
func figureLine(f page.FigureView) string {
	state := string(f.State)
	switch {
	case f.Value == nil:
		state = "not measured"
	case f.State == "":
		state = "counts in a soak only"
	case f.State == checks.Silent:
		state = "what it is compared with was not measured"
	}
	bracket := f.Bracket
	if bracket == "" {
		bracket = strings.Repeat(" ", checks.BracketWidth)
	}
	return fmt.Sprintf("%-29s %-24s %s  %s", f.TestPoint+" "+f.Measure, f.Text, bracket, state)
}

// withoutUncertainty is a printed figure without what stands behind ±; its digits
// tell enough where many figures share a line.
func withoutUncertainty(text string) string {
	figure, _, _ := strings.Cut(text, " ± ")
	return figure
}

// fitting returns what turns a text into one that the terminal can show.
func fitting(out io.Writer) func(string) string {
	if onTerminal(out) && showsUnicode() {
		return func(text string) string { return text }
	}
	return checks.ASCII
}

// printRoundEnd sums a round up.
func printRoundEnd(out io.Writer, round page.RoundView) {
	count := map[checks.State]int{}
	missing := 0
	for _, f := range round.Figures {
		if f.Asked && f.Value == nil {
			missing++
		} else if f.Asked {
			count[f.State]++
		}
	}
	parts := []string{fmt.Sprintf("%d within", count[checks.Within])}
	for _, state := range []checks.State{checks.Borderline, checks.Outside} {
		if count[state] > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", count[state], state))
		}
	}
	if missing > 0 {
		parts = append(parts, fmt.Sprintf("%d not measured", missing))
	}
	fmt.Fprintf(out, "\nround %q: %s\n", round.Label, strings.Join(parts, ", "))
}

func roundListCommand() *cobra.Command {
	var flags benchFlags
	var unit string
	var asJSON bool
	cmd := &cobra.Command{
		Use:     "list --unit ASSET-NUMBER",
		Short:   "List the rounds of a unit",
		Example: "  soakline round list --unit B8-0147",
		Args:    noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return flags.readBook(cmd, func(ctx context.Context, b *book.Book) error {
				rounds, err := b.Rounds(ctx, checks.UnitID(unit))
				if err != nil {
					return err
				}
				views := []page.RoundView{}
				for _, round := range rounds {
					view, err := viewRound(round)
					if err != nil {
						return err
					}
					views = append(views, view)
				}
				if asJSON {
					return printJSON(cmd.OutOrStdout(), views)
				}
				return printRounds(cmd.OutOrStdout(), views)
			})
		},
	}
	flags.addTo(cmd)
	cmd.Flags().StringVar(&unit, "unit", "", "asset number")
	addJSONFlag(cmd, &asJSON)
	mustRequire(cmd, "unit")
	return cmd
}

// viewRound is a round of the book against the sheet that the book kept with it.
func viewRound(round book.Round) (page.RoundView, error) {
	sheet, err := config.ParseSheet(round.Sheet.Name, round.Sheet.Text)
	return page.ViewRound(sheet, round), err
}

func printRounds(out io.Writer, rounds []page.RoundView) error {
	table := tabwriter.NewWriter(out, 0, 0, 3, ' ', 0)
	for _, round := range rounds {
		state := "given up"
		if round.End != nil {
			state = "done"
		}
		fmt.Fprintf(table, "%s\t%s\t%s\n", round.Begin.Local().Format(dayAndTime), round.Label, state)
	}
	return table.Flush()
}

func roundShowCommand() *cobra.Command {
	var flags benchFlags
	var unit string
	var asJSON bool
	cmd := &cobra.Command{
		Use:     "show --unit ASSET-NUMBER LABEL",
		Short:   "Show the figures of a round as the book holds them",
		Example: `  soakline round show --unit B8-0147 "as received"`,
		Args:    oneArgument,
		RunE: func(cmd *cobra.Command, args []string) error {
			return flags.readBook(cmd, func(ctx context.Context, b *book.Book) error {
				round, err := roundOf(ctx, b, unit, args[0])
				if err != nil {
					return err
				}
				view, err := viewRound(round)
				if err != nil {
					return err
				}
				if asJSON {
					return printJSON(cmd.OutOrStdout(), view)
				}
				printPoint(cmd.OutOrStdout(), page.PointView{Figures: view.Figures})
				printRoundEnd(cmd.OutOrStdout(), view)
				return nil
			})
		},
	}
	flags.addTo(cmd)
	cmd.Flags().StringVar(&unit, "unit", "", "asset number")
	addJSONFlag(cmd, &asJSON)
	mustRequire(cmd, "unit")
	return cmd
}
