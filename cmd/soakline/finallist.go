package main

import (
	"context"
	"fmt"
	"io"
	"strconv"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"soakline/checks"
	"soakline/config"
	"soakline/logger"
	"soakline/logger/book"
	"soakline/logger/page"
)

func finalListCommand() *cobra.Command {
	var flags benchFlags
	var unit string
	var asJSON bool
	cmd := &cobra.Command{
		Use:     "list",
		Short:   "List the final tests in the book",
		Example: "  soakline final list --unit B8-0147",
		Args:    noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return flags.readBook(cmd, func(ctx context.Context, b *book.Book) error {
				kept, err := b.Finals(ctx, checks.UnitID(unit))
				if err != nil {
					return err
				}
				views := []page.FinalView{}
				for _, final := range kept {
					view, err := viewedFinal(logger.FinalStatusOf(ctx, b, final, config.ParseSheet))
					if err != nil {
						return err
					}
					views = append(views, view)
				}
				if asJSON {
					return printJSON(cmd.OutOrStdout(), views)
				}
				return printFinals(cmd.OutOrStdout(), views)
			})
		},
	}
	flags.addTo(cmd)
	cmd.Flags().StringVar(&unit, "unit", "", "asset number (default: all)")
	addJSONFlag(cmd, &asJSON)
	return cmd
}

func printFinals(w io.Writer, finals []page.FinalView) error {
	table := tabwriter.NewWriter(w, 0, 0, 3, ' ', 0)
	for _, f := range finals {
		end, outcome := "under way", ""
		if f.End != nil {
			end, outcome = "to "+f.End.Local().Format(dayAndTime), string(f.Outcome)
		}
		fmt.Fprintf(table, "final test %d\t%s\t%s\t%s\t%s\t%s\n", f.Final, f.Unit, f.Begin.Local().Format(dayAndTime), end, outcome, f.GivenUp)
	}
	return table.Flush()
}

func finalShowCommand() *cobra.Command {
	var flags benchFlags
	var asJSON bool
	cmd := &cobra.Command{
		Use:     "show FINAL-TEST",
		Short:   "Show a final test, step by step, as the book holds it",
		Example: "  soakline final show 3",
		Args:    oneArgument,
		RunE: func(cmd *cobra.Command, args []string) error {
			id, err := finalID(args[0])
			if err != nil {
				return err
			}
			return flags.readBook(cmd, func(ctx context.Context, b *book.Book) error {
				final, err := b.Final(ctx, id)
				if err != nil {
					return err
				}
				view, err := viewedFinal(logger.FinalStatusOf(ctx, b, final, config.ParseSheet))
				if err != nil {
					return err
				}
				if asJSON {
					return printJSON(cmd.OutOrStdout(), view)
				}
				screen := finalScreen{out: cmd.OutOrStdout()}
				for _, step := range view.Steps {
					fmt.Fprintf(screen.out, "%s\n", step.Step)
					screen.result(step)
				}
				screen.verdict(view)
				return nil
			})
		},
	}
	flags.addTo(cmd)
	addJSONFlag(cmd, &asJSON)
	return cmd
}

// finalID reads a final test's number.
func finalID(text string) (book.FinalID, error) {
	n, err := strconv.ParseInt(text, 10, 64)
	if err != nil || n < 1 {
		return 0, wrongUsage(fmt.Errorf("%q is no number of a final test; soakline final list shows them", text))
	}
	return book.FinalID(n), nil
}

func finalGiveUpCommand() *cobra.Command {
	var flags benchFlags
	var unit, reason string
	cmd := &cobra.Command{
		Use:     "give-up --unit ASSET-NUMBER --reason TEXT",
		Short:   "End a final test before its last step; what was found stays, the verdict is no pass",
		Example: `  soakline final give-up --unit B8-0147 --reason "goes back to the repair shelf"`,
		Args:    noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			bench, err := flags.load(cmd)
			if err != nil {
				return err
			}
			return withFinals(cmd, bench, func(ctx context.Context, taker finalTaker) error {
				view, err := taker.giveUp(ctx, unit, reason)
				if err != nil {
					return err
				}
				screen := finalScreen{out: cmd.OutOrStdout()}
				screen.verdict(view)
				return outcomeExit(view.Outcome)
			})
		},
	}
	flags.addTo(cmd)
	cmd.Flags().StringVar(&unit, "unit", "", "asset number")
	cmd.Flags().StringVar(&reason, "reason", "", "why, in your words")
	mustRequire(cmd, "unit", "reason")
	return cmd
}
