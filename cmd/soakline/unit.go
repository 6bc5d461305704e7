package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/url"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"soakline/checks"
	"soakline/config"
	"soakline/logger/book"
	"soakline/logger/page"
)

func unitCommand() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "unit",
		Short: "Book units in, and write down what is known of them",
		Args:  noArguments,
		RunE:  func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	cmd.AddCommand(unitAddCommand(), unitListCommand(), unitShowCommand(), unitNoteCommand())
	return cmd
}

func unitAddCommand() *cobra.Command {
	var flags benchFlags
	var console, note string
	cmd := &cobra.Command{
		Use:     "add ASSET-NUMBER --console NAME",
		Short:   "Book a unit in",
		Example: `  soakline unit add B8-0147 --console "Brambling 8" --note "picture dim; sat in a shed"`,
		Args:    oneArgument,
		RunE: func(cmd *cobra.Command, args []string) error {
			bench, err := flags.load(cmd)
			if err != nil {
				return err
			}
			unit := page.UnitView{Unit: args[0], Console: console}
			if note != "" {
				unit.Notes = []page.NoteView{{Text: note}}
			}
			return viaDaemon(cmd.Context(), bench,
				func(ctx context.Context, d *daemon) error { return d.post(ctx, "/api/v1/units", unit, nil) },
				func(ctx context.Context, b *book.Book) error { return addUnit(ctx, b, bench, unit) })
		},
	}
	flags.addTo(cmd)
	cmd.Flags().StringVar(&console, "console", "", "the console model, as its test sheet names it")
	cmd.Flags().StringVar(&note, "note", "", "what was seen when it came in")
	mustRequire(cmd, "console")
	return cmd
}

// viaDaemon has a change made by the daemon that holds the bench, or in the book
// itself if none is running.
func viaDaemon(ctx context.Context, bench config.Bench, remote func(context.Context, *daemon) error, local func(context.Context, *book.Book) error) error {
	d, err := findDaemon(ctx, bench)
	if err != nil {
		return err
	}
	if d != nil {
		return remote(ctx, d)
	}
	return withBook(ctx, bench.Book, book.Options{Program: program()}, local)
}

// addUnit books a unit in without a daemon.
func addUnit(ctx context.Context, b *book.Book, bench config.Bench, view page.UnitView) error {
	unit := book.Unit{ID: checks.UnitID(view.Unit), Console: checks.ConsoleName(view.Console)}
	for _, note := range view.Notes {
		unit.Notes = append(unit.Notes, book.Note{Text: note.Text})
	}
	if err := bench.CheckUnit(unit); err != nil {
		return wrongUsage(err)
	}
	err := b.AddUnit(ctx, unit)
	if errors.Is(err, book.ErrInvalid) {
		return wrongUsage(err) // the asset number is none
	}
	return err
}

func unitListCommand() *cobra.Command {
	var flags benchFlags
	var asJSON bool
	cmd := &cobra.Command{
		Use:     "list",
		Short:   "List the units in the book",
		Example: "  soakline unit list --json",
		Args:    noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return flags.readBook(cmd, func(ctx context.Context, b *book.Book) error {
				units, err := b.Units(ctx)
				if err != nil {
					return err
				}
				views := []page.UnitView{}
				for _, unit := range units {
					views = append(views, page.ViewUnit(unit))
				}
				if asJSON {
					return printJSON(cmd.OutOrStdout(), views)
				}
				return printUnits(cmd.OutOrStdout(), views)
			})
		},
	}
	flags.addTo(cmd)
	addJSONFlag(cmd, &asJSON)
	return cmd
}

func printUnits(w io.Writer, units []page.UnitView) error {
	table := tabwriter.NewWriter(w, 0, 0, 3, ' ', 0)
	for _, unit := range units {
		last := ""
		if n := len(unit.Notes); n > 0 {
			last = unit.Notes[n-1].Text
		}
		fmt.Fprintf(table, "%s\t%s\t%s\n", unit.Unit, unit.Console, last)
	}
	return table.Flush()
}

func unitShowCommand() *cobra.Command {
	var flags benchFlags
	var asJSON bool
	cmd := &cobra.Command{
		Use:     "show ASSET-NUMBER",
		Short:   "Show a unit: its notes and its soaks",
		Example: "  soakline unit show B8-0147",
		Args:    oneArgument,
		RunE: func(cmd *cobra.Command, args []string) error {
			return flags.readBook(cmd, func(ctx context.Context, b *book.Book) error {
				unit, err := b.Unit(ctx, checks.UnitID(args[0]))
				if err != nil {
					return err
				}
				soaks, err := page.ViewSoaks(ctx, b, unit.ID)
				if err != nil {
					return err
				}
				if asJSON {
					return printJSON(cmd.OutOrStdout(), struct {
						page.UnitView
						Soaks []page.SoakRecordView `json:"soaks"`
					}{page.ViewUnit(unit), soaks})
				}
				fmt.Fprintf(cmd.OutOrStdout(), "%s   %s   booked in %s\n", unit.ID, unit.Console, unit.Added.Local().Format(dayAndTime))
				for _, note := range unit.Notes {
					fmt.Fprintf(cmd.OutOrStdout(), "  %s   %s\n", note.At.Local().Format(dayAndTime), note.Text)
				}
				return printSoaks(cmd.OutOrStdout(), soaks)
			})
		},
	}
	flags.addTo(cmd)
	addJSONFlag(cmd, &asJSON)
	return cmd
}

func unitNoteCommand() *cobra.Command {
	var flags benchFlags
	cmd := &cobra.Command{
		Use:     "note ASSET-NUMBER TEXT",
		Short:   "Write a remark about a unit",
		Example: `  soakline unit note B8-0147 "output capacitor replaced"`,
		Args:    func(cmd *cobra.Command, args []string) error { return wrongUsage(cobra.ExactArgs(2)(cmd, args)) },
		RunE: func(cmd *cobra.Command, args []string) error {
			bench, err := flags.load(cmd)
			if err != nil {
				return err
			}
			return viaDaemon(cmd.Context(), bench,
				func(ctx context.Context, d *daemon) error {
					return d.post(ctx, "/api/v1/units/"+url.PathEscape(args[0])+"/notes", page.NoteView{Text: args[1]}, nil)
				},
				func(ctx context.Context, b *book.Book) error {
					return b.AddNote(ctx, checks.UnitID(args[0]), book.Note{Text: args[1]})
				})
		},
	}
	flags.addTo(cmd)
	return cmd
}
