package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"soakline/logger/book"
)

// importers put readings into a book, by format.
var importers = map[string]func(*book.Book, context.Context, io.Reader, func(book.Imported)) (book.Imported, error){
	"line": (*book.Book).ImportLines,
	"csv":  (*book.Book).ImportCSV,
}

func bookImportCommand() *cobra.Command {
	var flags benchFlags
	var format string
	var how bookImportFlags
	cmd := &cobra.Command{
		Use:   "import FILE",
		Short: "Put readings that book export wrote, or another bench's whole book, into the book",
		Long: "Adds the readings of a file that are not in the book yet, so that importing it\n" +
			"twice changes nothing. Excursions and verdicts among the lines are kept as lines,\n" +
			"which book export gives again: the soaks that they belong to are not in them.\n" +
			"Another bench's book comes over whole, with its units, rounds, soaks, final tests and\n" +
			"verdicts: also twice, also after it was broken off, also while that bench goes on. Its\n" +
			"hash chain is verified first and kept, so that book check goes on verifying it. One\n" +
			"asset number for two units is refused before anything is written; say --same-units\n" +
			"where each is one unit that went from bench to bench, or --rename.\n" +
			"No daemon may have the book open.",
		Example: "  soakline book import B8-0147.csv --book other.book\n  zcat old.lp.gz | soakline book import - --format line\n" +
			"  soakline book import /media/stick/pier-end.book --rename B8-0147=B8-0147P",
		Args: oneArgument,
		RunE: func(cmd *cobra.Command, args []string) error {
			if format == "" && book.IsBook(args[0]) {
				return importBook(cmd, &flags, args[0], how)
			}
			if err := how.onlyForBooks(args[0]); err != nil {
				return err
			}
			if format == "" && strings.HasSuffix(args[0], ".csv") {
				format = "csv"
			}
			read, ok := importers[strings.TrimSpace(format)]
			if format == "" {
				read, ok = importers["line"], true
			}
			if !ok {
				return wrongUsage(fmt.Errorf("--format %q: there are line and csv", format))
			}
			path, err := flags.bookPath(cmd)
			if err != nil {
				return err
			}
			return withBook(cmd.Context(), path, book.Options{Program: program()}, func(ctx context.Context, b *book.Book) error {
				return importFile(ctx, cmd, b, args[0], read)
			})
		},
	}
	flags.addTo(cmd)
	how.addTo(cmd)
	cmd.Flags().StringVar(&format, "format", "", "line (line protocol) or csv (default: csv for FILE.csv, else line)")
	return cmd
}

func importFile(ctx context.Context, cmd *cobra.Command, b *book.Book, name string,
	read func(*book.Book, context.Context, io.Reader, func(book.Imported)) (book.Imported, error)) (err error) {
	from := cmd.InOrStdin()
	if name != "-" {
		file, err := os.Open(name)
		if err != nil {
			return err
		}
		defer func() { err = errors.Join(err, file.Close()) }()
		from = file
	}
	told := tellHowFar(cmd.ErrOrStderr(), "readings")
	count, err := read(b, ctx, from, func(i book.Imported) { told.say(i.Readings+i.Known, 0) })
	told.end()
	if err != nil {
		return fmt.Errorf("%s: %w (%d readings before that are in the book)", name, err, count.Readings)
	}
	fmt.Fprintf(cmd.OutOrStdout(), "%d readings imported; %d were in the book already\n", count.Readings, count.Known)
	if count.Others+count.KnownOthers > 0 {
		fmt.Fprintf(cmd.OutOrStdout(), "%d excursions and verdicts kept as lines; %d were in the book already\n", count.Others, count.KnownOthers)
	}
	return nil
}
