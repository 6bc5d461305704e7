package main

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"soakline/logger/book"
)

func bookThinCommand() *cobra.Command {
	var flags benchFlags
	var how book.Thin
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "thin",
		Short: "Keep of old soaks only envelopes, but all that is near an excursion, a round or a final test",
		Long: "Replaces readings of soaks that ended long ago and have their verdict by their\n" +
			"lowest, highest, mean and number in each interval. Readings near an excursion, a\n" +
			"round or a final test stay, and so do those that were not shipped yet. The book\n" +
			"says of each soak that and when it was thinned; its verdict stays as it was\n" +
			"given. It cannot be undone: make a copy first (book backup). A daemon may be\n" +
			"running. book shrink gives the room back to the disk.",
		Example: "  soakline book thin --older-than 8760h\n  soakline book thin --older-than 2160h --step 10s --keep-around 30m",
		Args:    noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if how.OlderThan <= 0 {
				return wrongUsage(errors.New("say with --older-than how old: 2160h are 90 days"))
			}
			return flags.besideBook(cmd, func(ctx context.Context, b *book.Book) error {
				done, err := b.Thin(ctx, how)
				if err != nil {
					return err
				}
				if asJSON {
					return printJSON(cmd.OutOrStdout(), viewThinnings(done))
				}
				for _, t := range done {
					fmt.Fprintf(cmd.OutOrStdout(), "soak %d: %d readings are envelopes of %v now\n", t.Soak, t.Readings, t.Step)
				}
				_, err = fmt.Fprintf(cmd.OutOrStdout(), "%d soaks thinned\n", len(done))
				return err
			})
		},
	}
	flags.addTo(cmd)
	addJSONFlag(cmd, &asJSON)
	cmd.Flags().DurationVar(&how.OlderThan, "older-than", 0, "only soaks that ended longer ago than this; 2160h are 90 days (must be given)")
	cmd.Flags().DurationVar(&how.KeepAround, "keep-around", 10*time.Minute, "how far around excursions, rounds and final tests every reading stays")
	cmd.Flags().DurationVar(&how.Step, "step", time.Minute, "interval of an envelope")
	return cmd
}

// thinningView is what was done to a soak, as JSON.
type thinningView struct {
	Soak     int64     `json:"soak"`
	At       time.Time `json:"at"`
	StepS    float64   `json:"step_s"`
	Readings int64     `json:"readings"`
}

func viewThinnings(all []book.Thinning) []thinningView {
	views := make([]thinningView, len(all))
	for i, t := range all {
		views[i] = thinningView{Soak: int64(t.Soak), At: t.At, StepS: t.Step.Seconds(), Readings: t.Readings}
	}
	return views
}

func bookShrinkCommand() *cobra.Command {
	var flags benchFlags
	cmd := &cobra.Command{
		Use:   "shrink",
		Short: "Give room of the book's file that is free back to the disk",
		Long: "Writes the book anew without the room in it that is free, also while a daemon\n" +
			"writes to it: its commits wait until that is done, and readings are held that\n" +
			"long. The disk needs room for the book twice more meanwhile.",
		Example: "  soakline book shrink --book bench.book",
		Args:    noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return flags.besideBook(cmd, func(ctx context.Context, b *book.Book) error {
				freed, err := b.Shrink(ctx)
				if err != nil {
					return err
				}
				_, err = fmt.Fprintf(cmd.OutOrStdout(), "%s given back\n", bytesInWords(max(freed, 0)))
				return err
			})
		},
	}
	flags.addTo(cmd)
	return cmd
}

// besideBook opens the book for upkeep, beside a daemon that may be writing to it.
func (f *benchFlags) besideBook(cmd *cobra.Command, work func(context.Context, *book.Book) error) error {
	path, err := f.bookPath(cmd)
	if err != nil {
		return err
	}
	return withBook(cmd.Context(), path, book.Options{Beside: true, Program: program()}, work)
}
