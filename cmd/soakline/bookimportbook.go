package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"soakline/checks"
	"soakline/logger/book"
)

// bookImportFlags say how another bench's book is taken over.
type bookImportFlags struct {
	sameUnits, asJSON bool
	rename            []string
}

func (f *bookImportFlags) addTo(cmd *cobra.Command) {
	cmd.Flags().BoolVar(&f.sameUnits, "same-units", false, "units that both books have under one asset number are one unit each, which went from bench to bench")
	cmd.Flags().StringArrayVar(&f.rename, "rename", nil, "give a unit of the other book another asset number here, as in B8-0147=B8-0147P; may be given more than once")
	cmd.Flags().BoolVar(&f.asJSON, "json", false, "say what came of it as JSON (books only)")
}

// onlyForBooks refuses flags that say nothing about a file of readings.
func (f *bookImportFlags) onlyForBooks(file string) error {
	if f.sameUnits || f.asJSON || len(f.rename) > 0 {
		return wrongUsage(fmt.Errorf("--same-units, --rename and --json are for another bench's book, and %s is none", file))
	}
	return nil
}

// how is what the flags say.
func (f *bookImportFlags) how() (book.BookImport, error) {
	how := book.BookImport{SameUnits: f.sameUnits, Rename: make(map[checks.UnitID]checks.UnitID)}
	for _, pair := range f.rename {
		old, fresh, ok := strings.Cut(pair, "=")
		old, fresh = strings.TrimSpace(old), strings.TrimSpace(fresh)
		if !ok || old == "" || fresh == "" {
			return how, wrongUsage(fmt.Errorf("--rename %q: give the asset number there and the one here, as in B8-0147=B8-0147P", pair))
		}
		if twice, ok := how.Rename[checks.UnitID(old)]; ok {
			return how, wrongUsage(fmt.Errorf("--rename %q: %s is to be %s already", pair, old, twice))
		}
		how.Rename[checks.UnitID(old)] = checks.UnitID(fresh)
	}
	return how, nil
}

// importBook takes another bench's book over.
func importBook(cmd *cobra.Command, flags *benchFlags, file string, given bookImportFlags) error {
	how, err := given.how()
	if err != nil {
		return err
	}
	path, err := flags.bookPath(cmd)
	if err != nil {
		return err
	}
	options := book.Options{Program: program()}
	err = withBook(cmd.Context(), file, book.Options{ReadOnly: true, Program: program()}, func(ctx context.Context, from *book.Book) error {
		return withBook(ctx, path, options, func(ctx context.Context, into *book.Book) error {
			told := tellHowFar(cmd.ErrOrStderr(), "readings")
			defer told.end()
			done, err := into.ImportBook(ctx, from, how, told.say)
			told.end()
			if errors.Is(err, book.ErrExists) || errors.Is(err, book.ErrInvalid) {
				return wrongUsage(err)
			}
			if err != nil {
				return err
			}
			if given.asJSON {
				return printJSON(cmd.OutOrStdout(), viewBookImported(done))
			}
			return printBookImported(cmd.OutOrStdout(), done)
		})
	})
	if errors.Is(err, book.ErrOlder) {
		return fmt.Errorf("%w: update that bench's program first, or bring a copy of the book up to date: soakline book info --book COPY", err)
	}
	return err
}

// bookImportedView is what came of it, as JSON.
type bookImportedView struct {
	Identity string   `json:"identity"`
	Benches  []string `json:"benches"`
	Readings int64    `json:"readings"`
	Known    int64    `json:"known_readings"`
	Units    int64    `json:"units"`
	Soaks    int64    `json:"soaks"`
	Rounds   int64    `json:"rounds"`
	Trials   int64    `json:"trials"`
	Finals   int64    `json:"final_tests"`
	Verdicts int64    `json:"verdicts"`
	Captures int64    `json:"captures"`
	Others   int64    `json:"others"`
	Links    int64    `json:"links"`
	Told     []string `json:"told"`
}

func viewBookImported(d book.BookImported) bookImportedView {
	return bookImportedView{Identity: d.Identity, Benches: append([]string{}, d.Benches...), Readings: d.Readings, Known: d.Known, Units: d.Units, Soaks: d.Soaks, Rounds: d.Rounds,
		Trials: d.Trials, Finals: d.Finals, Verdicts: d.Verdicts, Captures: d.Captures, Others: d.Others, Links: d.Links, Told: append([]string{}, d.Told...)}
}

func printBookImported(w io.Writer, d book.BookImported) error {
	table := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintf(table, "book of\t%s, known by %.16s\n", strings.Join(d.Benches, ", "), d.Identity)
	fmt.Fprintf(table, "readings\t%d new, %d were in this book already\n", d.Readings, d.Known)
	fmt.Fprintf(table, "new\t%d units, %d soaks, %d rounds, %d trials, %d final tests, %d verdicts, %d captures, %d events and notes\n",
		d.Units, d.Soaks, d.Rounds, d.Trials, d.Finals, d.Verdicts, d.Captures, d.Others)
	fmt.Fprintf(table, "chain\tit fits; %d of its links are new here\n", d.Links)
	if err := table.Flush(); err != nil {
		return err
	}
	for _, line := range d.Told {
		if _, err := fmt.Fprintln(w, line); err != nil {
			return err
		}
	}
	return nil
}
