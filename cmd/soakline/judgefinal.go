package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"time"

	"github.com/spf13/cobra"

	"soakline/checks"
	"soakline/config"
	"soakline/logger"
	"soakline/logger/book"
	"soakline/logger/page"
)

// judgedFinal is a final test judged again, with what differs from the verdict that
// the book has.
type judgedFinal struct {
	page.FinalView
	// Before is when the verdict of the book was given; null if it has none.
	Before *time.Time `json:"before"`
	// Same tells whether the two are the same to the last bit.
	Same    bool     `json:"same"`
	Changes []string `json:"changes"`
}

// judgeFinal gives the verdict on a final test again and lists what would change.
func judgeFinal(cmd *cobra.Command, flags *benchFlags, id book.FinalID, sheetFile string, asJSON bool) error {
	return flags.readBook(cmd, func(ctx context.Context, b *book.Book) error {
		final, err := b.Final(ctx, id)
		if err != nil {
			return err
		}
		sheet, err := sheetOrKept(final.Sheet, sheetFile)
		if err != nil {
			return wrongUsage(err)
		}
		parse := func(string, []byte) (checks.Sheet, error) { return sheet, nil }
		status, err := logger.FinalStatusOf(ctx, b, final, parse)
		if err != nil {
			return err
		}
		judged := judgedFinal{FinalView: page.ViewFinal(status), Changes: []string{}}
		if err := judged.compare(ctx, b, status); err != nil {
			return err
		}
		if asJSON {
			err = printJSON(cmd.OutOrStdout(), judged)
		} else {
			judged.print(cmd.OutOrStdout())
		}
		if err != nil {
			return err
		}
		return outcomeExit(judged.Outcome)
	})
}

// compare holds a verdict against the first that the book has on the test: the one
// that was given at its end.
func (j *judgedFinal) compare(ctx context.Context, b *book.Book, now logger.FinalStatus) error {
	kept, err := b.FinalVerdicts(ctx, now.Final.ID)
	if err != nil || len(kept) == 0 {
		return err
	}
	kept[0].Unit = now.Verdict.Unit // one that came with another bench's book may go by another number here
	before, err := book.EncodeFinalVerdict(kept[0].FinalVerdict)
	if err != nil {
		return err
	}
	after, err := book.EncodeFinalVerdict(now.Verdict)
	if err != nil {
		return err
	}
	j.Before, j.Same = &kept[0].At, bytes.Equal(before, after)
	given, err := soaksAsGiven(ctx, b, now)
	j.Changes = append(j.Changes, checks.FinalChanges(kept[0].In(time.Local, given...), now.Verdict.In(time.Local, now.Soaks...))...)
	return err
}

// soaksAsGiven are the soaks of a final test with the verdicts that were given on them.
func soaksAsGiven(ctx context.Context, b *book.Book, now logger.FinalStatus) ([]checks.FinalSoak, error) {
	given := slices.Clone(now.Soaks)
	for i, soak := range given {
		id, err := b.SoakOfFinal(ctx, now.Final.ID, book.SoakID(soak.Soak))
		if err != nil {
			return nil, err
		}
		verdict, err := b.Verdict(ctx, id)
		if err != nil && !errors.Is(err, book.ErrNotFound) {
			return nil, err
		}
		given[i].Verdict = verdict.Verdict
	}
	return given, nil
}

func (j *judgedFinal) print(w io.Writer) {
	screen := finalScreen{out: w}
	screen.verdict(j.FinalView)
	switch {
	case j.Before == nil:
		fmt.Fprintln(w, "           the book has no verdict on it yet")
	case j.Same:
		fmt.Fprintf(w, "           the same as the verdict of %s, to the last bit\n", j.Before.Local().Format(dayAndTime))
	default:
		fmt.Fprintf(w, "           against the verdict of %s:\n", j.Before.Local().Format(dayAndTime))
		for _, change := range j.Changes {
			fmt.Fprint(w, screen.fit(paragraph("             ", change)))
		}
		if len(j.Changes) == 0 {
			fmt.Fprintln(w, "             nothing in outcome and reasons; limits or figures differ")
		}
	}
}

// sheetOrKept is the sheet in the file, or the one that the book kept.
func sheetOrKept(kept book.SheetCopy, file string) (checks.Sheet, error) {
	if file == "" {
		return config.ParseSheet(kept.Name, kept.Text)
	}
	return readSheet(file)
}
