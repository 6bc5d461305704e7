package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"time"

	"github.com/spf13/cobra"

	"soakline/checks"
	"soakline/logger/book"
)

func bookCommand() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "book",
		Short: "Look at the book, check it, take readings out of it and put some in",
		Args:  noArguments,
		RunE:  func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	cmd.AddCommand(bookInfoCommand(), bookCheckCommand(), bookExportCommand(), bookImportCommand(), bookBackupCommand())
	return cmd
}

func bookExportCommand() *cobra.Command {
	var flags benchFlags
	var format, output, unit, point, since, until string
	var soak int64
	cmd := &cobra.Command{
		Use:   "export",
		Short: "Write readings, excursions and verdicts as line protocol or CSV",
		Example: `  soakline book export --unit B8-0147 --format csv -o B8-0147.csv
  soakline book export --soak 12 > soak12.lp`,
		Args: noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			filter := book.Filter{Unit: checks.UnitID(unit), TestPoint: checks.TestPointName(point), Soak: book.SoakID(soak)}
			if err := errors.Join(readTime("--since", since, &filter.Since), readTime("--until", until, &filter.Until)); err != nil {
				return wrongUsage(err)
			}
			export, ok := exporters[format]
			if !ok {
				return wrongUsage(fmt.Errorf("--format %q: there are line and csv", format))
			}
			return flags.readBook(cmd, func(ctx context.Context, b *book.Book) error {
				told := tellHowFar(cmd.ErrOrStderr())
				defer told.end()
				return writeTo(output, cmd.OutOrStdout(), func(w io.Writer) error { return export(ctx, b, told.writer(w), filter) })
			})
		},
	}
	flags.addTo(cmd)
	cmd.Flags().StringVar(&format, "format", "line", "line (line protocol) or csv")
	cmd.Flags().StringVarP(&output, "output", "o", "-", "file to write; - is standard output")
	cmd.Flags().StringVar(&unit, "unit", "", "only this asset number")
	cmd.Flags().StringVar(&point, "test-point", "", "only this test point")
	cmd.Flags().Int64Var(&soak, "soak", 0, "only this soak")
	cmd.Flags().StringVar(&since, "since", "", "only from this moment on (2026-11-25T14:00:00Z, or 90m ago as 90m)")
	cmd.Flags().StringVar(&until, "until", "", "only before this moment")
	return cmd
}

// exporters write what a filter picks, by format.
var exporters = map[string]func(context.Context, *book.Book, io.Writer, book.Filter) error{
	"line": func(ctx context.Context, b *book.Book, w io.Writer, f book.Filter) error {
		_, err := b.ExportLines(ctx, w, f)
		return err
	},
	"csv": func(ctx context.Context, b *book.Book, w io.Writer, f book.Filter) error {
		_, err := b.ExportCSV(ctx, w, f)
		return err
	},
}

// readTime reads a moment (RFC 3339) or how long ago it was.
func readTime(flag, text string, into *time.Time) error {
	if text == "" {
		return nil
	}
	if ago, err := time.ParseDuration(text); err == nil {
		*into = time.Now().Add(-ago)
		return nil
	}
	t, err := time.Parse(time.RFC3339Nano, text)
	if err != nil {
		return fmt.Errorf("%s %q: give a moment as 2026-11-25T14:00:00Z or how long ago as 90m", flag, text)
	}
	*into = t
	return nil
}

// writeTo writes a file through a temporary one, so that a failure leaves what was
// there before.
func writeTo(path string, stdout io.Writer, write func(io.Writer) error) (err error) {
	if path == "-" {
		return write(stdout)
	}
	unfinished := path + ".unfinished"
	file, err := os.OpenFile(unfinished, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o644)
	if err != nil {
		return err
	}
	if err = errors.Join(write(file), file.Sync(), file.Close()); err != nil {
		return errors.Join(fmt.Errorf("write %s: %w", path, err), os.Remove(unfinished))
	}
	return os.Rename(unfinished, path)
}
