package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"soakline/checks"
	"soakline/config"
	"soakline/logger"
	"soakline/logger/book"
	"soakline/logger/page"
)

func judgeCommand() *cobra.Command {
	var flags benchFlags
	var sheetFile string
	var asJSON, final bool
	cmd := &cobra.Command{
		Use:   "judge (SOAK | --final FINAL-TEST)",
		Short: "Give the verdict on a soak or a final test again from the book, by its own sheet or another",
		Long: `Give the verdict on a soak again from the readings in the book, or with --final that
on a final test. Without --sheet it is judged by the sheet that the book kept with
it, and the verdict is the same to the last bit; for a final test it is said what
would change. Of a soak that was thinned (book thin) it is the verdict that was
given. The exit code is the verdict's: 0 pass, 1 fail, 3 undecided.`,
		Example: "  soakline judge 12 --sheet tighter.yaml\n  soakline judge --final 3 --sheet tighter.yaml",
		Args:    oneArgument,
		RunE: func(cmd *cobra.Command, args []string) error {
			if final {
				id, err := finalID(args[0])
				if err != nil {
					return err
				}
				return judgeFinal(cmd, &flags, id, sheetFile, asJSON)
			}
			id, err := soakID(args[0])
			if err != nil {
				return err
			}
			return flags.readBook(cmd, func(ctx context.Context, b *book.Book) error {
				soak, err := b.Soak(ctx, id)
				if err != nil {
					return err
				}
				verdict, err := judgeAgain(ctx, b, soak, sheetFile, cmd.ErrOrStderr())
				if err != nil {
					return err
				}
				view := page.ViewVerdict(verdict)
				view.Soak, view.Console, view.Place = int64(id), string(soak.Console), soak.Place
				if asJSON {
					err = printJSON(cmd.OutOrStdout(), view)
				} else {
					printVerdict(cmd.OutOrStdout(), view)
				}
				if err != nil {
					return err
				}
				return outcomeExit(verdict.Outcome)
			})
		},
	}
	flags.addTo(cmd)
	cmd.Flags().StringVar(&sheetFile, "sheet", "", "test sheet to judge by (default: the one kept with the soak)")
	cmd.Flags().BoolVar(&final, "final", false, "judge a final test, not a soak")
	addJSONFlag(cmd, &asJSON)
	return cmd
}

// judgeAgain gives the verdict on a soak again; of one that was thinned it is the one
// that was given, which is said.
func judgeAgain(ctx context.Context, b *book.Book, soak book.Soak, sheetFile string, errs io.Writer) (checks.Verdict, error) {
	sheet, err := sheetOrKept(soak.Sheet, sheetFile)
	if err != nil {
		return checks.Verdict{}, wrongUsage(err)
	}
	verdict, err := logger.JudgeFromBook(ctx, b, soak.ID, sheet)
	if !errors.Is(err, book.ErrThinned) || sheetFile != "" {
		return verdict, err
	}
	fmt.Fprintf(errs, "soakline: %v\n", err)
	given, err := b.Verdict(ctx, soak.ID)
	return given.Verdict, err
}

// readSheet reads a test sheet's file.
func readSheet(file string) (checks.Sheet, error) {
	text, err := os.ReadFile(file)
	if err != nil {
		return checks.Sheet{}, fmt.Errorf("test sheet: %w", err)
	}
	return config.ParseSheet(filepath.Base(file), text)
}
