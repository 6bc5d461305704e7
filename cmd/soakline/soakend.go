package main

import (
	"context"
	"fmt"
	"net/url"
	"time"

	"github.com/spf13/cobra"

	"soakline/checks"
	"soakline/config"
	"soakline/logger"
	"soakline/logger/book"
	"soakline/logger/page"
)

func soakEndCommand() *cobra.Command {
	var flags benchFlags
	var unit, reason string
	cmd := &cobra.Command{
		Use:     "end --unit ASSET-NUMBER --reason TEXT",
		Short:   "Stop a soak before its time; what was read stays, the verdict is at best undecided",
		Example: `  soakline soak end --unit B8-0147 --reason "smell of hot varnish"`,
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
				return endCutOff(cmd, bench, checks.UnitID(unit), reason)
			}
			return d.post(cmd.Context(), "/api/v1/units/"+url.PathEscape(unit)+"/soak/end", page.EndRequest{Reason: reason}, nil)
		},
	}
	flags.addTo(cmd)
	cmd.Flags().StringVar(&unit, "unit", "", "asset number")
	cmd.Flags().StringVar(&reason, "reason", "", "why, in your words")
	mustRequire(cmd, "unit", "reason")
	return cmd
}

// endCutOff ends a soak that is still open in the book while no daemon runs: it was
// cut off, and nobody wants it to go on. What was read is judged.
func endCutOff(cmd *cobra.Command, bench config.Bench, unit checks.UnitID, reason string) error {
	return withBook(cmd.Context(), bench.Book, book.Options{Program: program()}, func(ctx context.Context, b *book.Book) error {
		running, err := b.RunningSoaks(ctx, bench.Bench)
		if err != nil {
			return err
		}
		for _, soak := range running {
			if soak.Unit != unit {
				continue
			}
			verdict, err := endInBook(ctx, b, soak, reason)
			if err != nil {
				return err
			}
			view := page.ViewVerdict(verdict)
			view.Soak, view.Console, view.Place = int64(soak.ID), string(soak.Console), soak.Place
			printVerdict(cmd.OutOrStdout(), view)
			return nil
		}
		return fmt.Errorf("no daemon holds bench %s, and the book has no soak of %s under way", bench.Bench, unit)
	})
}

// endInBook stops a soak where its readings stop and gives its verdict.
func endInBook(ctx context.Context, b *book.Book, soak book.Soak, reason string) (checks.Verdict, error) {
	sheet, err := config.ParseSheet(soak.Sheet.Name, soak.Sheet.Text)
	if err != nil {
		return checks.Verdict{}, err
	}
	end := soak.Begin
	for r, err := range b.SoakReadings(ctx, soak.ID) {
		if err != nil {
			return checks.Verdict{}, err
		}
		if r.At.After(end) {
			end = r.At
		}
	}
	if err := b.EndSoak(ctx, soak.ID, book.SoakStopped, end, reason); err != nil {
		return checks.Verdict{}, err
	}
	verdict, err := logger.JudgeFromBook(ctx, b, soak.ID, sheet)
	if err != nil {
		return checks.Verdict{}, err
	}
	return verdict, logger.KeepVerdict(ctx, b, soak.ID, time.Time{}, verdict)
}
