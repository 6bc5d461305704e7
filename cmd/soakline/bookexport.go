package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"soakline/checks"
	"soakline/logger/book"
)

func bookExportCommand() *cobra.Command {
	var flags benchFlags
	var format, output, unit, point, from, to string
	var soak int64
	cmd := &cobra.Command{
		Use:   "export",
		Short: "Write readings, excursions and verdicts as line protocol, or readings as CSV or Parquet",
		Example: `  soakline book export --unit B8-0147 -o B8-0147.csv
  soakline book export --from 2026-11-01T00:00:00Z --to 2026-12-01T00:00:00Z -o november.parquet
  soakline book export --soak 12 > soak12.lp`,
		Args: noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			filter := book.Filter{Unit: checks.UnitID(unit), TestPoint: checks.TestPointName(point), Soak: book.SoakID(soak)}
			if err := errors.Join(readTime("--from", from, &filter.Since), readTime("--to", to, &filter.Until)); err != nil {
				return wrongUsage(err)
			}
			export, ok := exporters[formatOf(format, output)]
			if !ok {
				return wrongUsage(fmt.Errorf("--format %q: there are line, csv and parquet", format))
			}
			return flags.readBook(cmd, func(ctx context.Context, b *book.Book) error {
				total, err := b.Count(ctx, filter)
				if err != nil {
					return err
				}
				far := tellHowFar(cmd.ErrOrStderr(), "readings")
				defer far.end()
				return writeTo(output, cmd.OutOrStdout(), func(w io.Writer) error {
					return export(ctx, b, w, filter, func(done int64) { far.say(done, total) })
				})
			})
		},
	}
	flags.addTo(cmd)
	cmd.Flags().StringVar(&format, "format", "", "line (line protocol), csv or parquet (default: as the output's name ends, else line)")
	cmd.Flags().StringVarP(&output, "output", "o", "-", "file to write; - is standard output")
	cmd.Flags().StringVar(&unit, "unit", "", "only this asset number")
	cmd.Flags().StringVar(&point, "test-point", "", "only this test point")
	cmd.Flags().Int64Var(&soak, "soak", 0, "only this soak")
	cmd.Flags().StringVar(&from, "from", "", "only from this moment on (2026-11-25T14:00:00Z, or 90m ago as 90m)")
	cmd.Flags().StringVar(&to, "to", "", "only before this moment")
	return cmd
}

// formatOf is the format that was asked for, or the one that a file's name tells.
func formatOf(format, name string) string {
	switch {
	case format != "":
		return strings.TrimSpace(format)
	case strings.HasSuffix(name, ".csv"):
		return "csv"
	case strings.HasSuffix(name, ".parquet"):
		return "parquet"
	}
	return "line"
}

// exporters write what a filter picks, by format, and tell how many readings they
// have written.
var exporters = map[string]func(context.Context, *book.Book, io.Writer, book.Filter, func(int64)) error{
	"line": func(ctx context.Context, b *book.Book, w io.Writer, f book.Filter, far func(int64)) error {
		_, err := b.ExportLines(ctx, &lineCounter{to: w, told: far}, f)
		return err
	},
	"csv": func(ctx context.Context, b *book.Book, w io.Writer, f book.Filter, far func(int64)) error {
		_, err := b.ExportCSV(ctx, &lineCounter{to: w, told: far}, f)
		return err
	},
	"parquet": func(ctx context.Context, b *book.Book, w io.Writer, f book.Filter, far func(int64)) error {
		_, err := b.ExportParquet(ctx, w, f, far)
		return err
	},
}

// lineCounter counts lines on their way: a reading is one.
type lineCounter struct {
	to    io.Writer
	lines int64
	told  func(int64)
}

// Write passes text on.
func (l *lineCounter) Write(text []byte) (int, error) {
	l.lines += int64(bytes.Count(text, []byte{'\n'}))
	l.told(l.lines)
	return l.to.Write(text)
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
