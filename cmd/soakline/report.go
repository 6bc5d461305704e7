package main

import (
	"context"
	"fmt"
	"io"
	"time"

	"github.com/spf13/cobra"

	"soakline/checks"
	"soakline/config"
	"soakline/logger"
	"soakline/logger/book"
	"soakline/logger/report"
)

func reportCommand() *cobra.Command {
	var flags benchFlags
	var unit, format, output string
	var soak int64
	var label bool
	cmd := &cobra.Command{
		Use:   "report --unit ASSET-NUMBER -o FILE",
		Short: "Write the record of a unit's test: verdict, checks, plots and what they rest on",
		Long: `Write the record of a unit's test from the book: the verdict with its reasons, every
check with its limit and plot, the first round beside the last, the instruments, the
sheet's hash, the verdict's place in the book's hash chain, and the cautions. Without
--soak it is about the unit's latest soak that has a verdict. --label writes a label
of 62 by 29 mm with a code that finds the record again. A file that is there already
stays as it is until the new one is whole.`,
		Example: `  soakline report --unit B8-0147 --format pdf -o B8-0147.pdf
  soakline report --unit B8-0147 --soak 12 --format html -o B8-0147.html
  soakline report --unit B8-0147 --format junit -o B8-0147.xml
  soakline report --unit B8-0147 --label -o B8-0147-label.pdf`,
		Args: noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			form, err := reportFormat(format, output, label)
			if err != nil {
				return wrongUsage(err)
			}
			if soak < 0 {
				return wrongUsage(fmt.Errorf("--soak %d is no number of a soak; soakline soak list shows them", soak))
			}
			return flags.readBook(cmd, func(ctx context.Context, b *book.Book) error {
				c, err := report.NewCertificate(ctx, b, checks.UnitID(unit), reportOptions(book.SoakID(soak), flags.benchNow(cmd)))
				if err != nil {
					return err
				}
				return writeTo(output, cmd.OutOrStdout(), func(w io.Writer) error { return c.Write(w, form) })
			})
		},
	}
	flags.addTo(cmd)
	cmd.Flags().StringVar(&unit, "unit", "", "asset number")
	cmd.Flags().Int64Var(&soak, "soak", 0, "number of the soak (default: the latest with a verdict)")
	cmd.Flags().StringVar(&format, "format", "", "html, pdf, csv, json, or junit for build servers (default: as the file's name ends, else html)")
	cmd.Flags().BoolVar(&label, "label", false, "write a label of 62 by 29 mm (PDF)")
	cmd.Flags().StringVarP(&output, "output", "o", "", "file to write; - is standard output")
	mustRequire(cmd, "unit", "output")
	return cmd
}

// reportFormat is the format that is asked for by name, by the file's name, or by
// asking for a label.
func reportFormat(format, output string, label bool) (report.Format, error) {
	switch {
	case label && format != "" && format != string(report.PDF):
		return "", fmt.Errorf("--label is written as pdf, not as %s", format)
	case label:
		return report.Label, nil
	case format == "":
		format = string(report.FormatOf(output))
	}
	return report.Format(format), report.Format(format).Validate()
}

func reportOptions(soak book.SoakID, bench logger.Settings) report.Options {
	return report.Options{Soak: soak, Program: program(), Now: time.Now(), Zone: time.Local, ParseSheet: config.ParseSheet, Bench: bench}
}

// benchNow is the bench as its file is now; empty where only a book is at hand. A
// bench that cannot be read is no reason not to write what the book holds.
func (f *benchFlags) benchNow(cmd *cobra.Command) logger.Settings {
	if f.book != "" && f.bench == "" {
		return logger.Settings{}
	}
	bench, err := f.load(cmd)
	if err != nil {
		return logger.Settings{}
	}
	return bench.Settings
}
