package main

import (
	"context"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"soakline/logger/book"
)

func bookCheckCommand() *cobra.Command {
	var flags benchFlags
	var saveTo, printed string
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "check",
		Short: "Read the whole book and name all that is wrong with it",
		Long: "Reads every page, block, capture, sheet and verdict of the book, compares\n" +
			"checksums, order, counts and references, and writes a line for each thing that\n" +
			"is wrong. Verdicts and excursions form a hash chain: the first that does not fit\n" +
			"is named first. --chain 17:3f2a99c0d1e2f304 compares with the position and hash\n" +
			"that a certificate shows, printed here or at a bench whose book was imported; that\n" +
			"tells also whether the chain was made anew. With --save-to all that can be read goes into a new book, and what can\n" +
			"be told from the rest is built anew; the book itself is left as it is. The exit\n" +
			"code is 4 where something is wrong.",
		Example: "  soakline book check --book bench.book\n  soakline book check --book bench.book --save-to saved.book\n" +
			"  soakline book check --chain 17:3f2a99c0d1e2f304",
		Args: noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return flags.readBook(cmd, func(ctx context.Context, b *book.Book) error {
				told := tellHowFar(cmd.ErrOrStderr(), "blocks")
				checked, err := b.Check(ctx, told.say)
				told.end()
				if err != nil {
					return err
				}
				head, compared, err := checkChain(ctx, b, printed)
				if err != nil {
					return err
				}
				checked = append(compared, checked...)
				result := bookCheckView{Path: b.Path(), Chain: viewChainLink(head), Problems: viewProblems(checked)}
				if saveTo != "" {
					saved, err := b.Repair(ctx, saveTo, told.say)
					told.end()
					if err != nil {
						return err
					}
					result.Saved = &bookSavedView{Path: saveTo, Readings: saved.Readings, Problems: viewProblems(saved.Problems)}
				}
				if err := result.print(cmd.OutOrStdout(), asJSON); err != nil {
					return err
				}
				if len(checked) > 0 {
					return &exitError{code: exitTrouble}
				}
				return nil
			})
		},
	}
	flags.addTo(cmd)
	addJSONFlag(cmd, &asJSON)
	cmd.Flags().StringVar(&printed, "chain", "", "position and hash of a certificate, as in 17:3f2a99c0d1e2f304")
	cmd.Flags().StringVar(&saveTo, "save-to", "", "new book for all that can be read")
	return cmd
}

// bookCheckView is what a check found, as JSON.
type bookCheckView struct {
	Path     string         `json:"path"`
	Chain    *chainLinkView `json:"chain"`
	Problems []problemView  `json:"problems"`
	Saved    *bookSavedView `json:"saved,omitempty"`
}

type bookSavedView struct {
	Path     string        `json:"path"`
	Readings int64         `json:"readings"`
	Problems []problemView `json:"problems"`
}

type problemView struct {
	Place    string `json:"place"`
	Text     string `json:"text"`
	Mendable bool   `json:"mendable"`
}

func viewProblems(problems []book.Problem) []problemView {
	views := make([]problemView, len(problems))
	for i, p := range problems {
		views[i] = problemView{Place: p.Place, Text: p.Text, Mendable: p.Mendable}
	}
	return views
}

func (v bookCheckView) print(w io.Writer, asJSON bool) error {
	if asJSON {
		return printJSON(w, v)
	}
	mendable := 0
	for _, p := range v.Problems {
		fmt.Fprintf(w, "%s: %s\n", p.Place, p.Text)
		if p.Mendable {
			mendable++
		}
	}
	if len(v.Problems) == 0 {
		fmt.Fprintln(w, "nothing is wrong with it"+v.Chain.inWords())
	} else {
		fmt.Fprintf(w, "%d things are wrong; %d of them can be put right without loss (--save-to)\n", len(v.Problems), mendable)
	}
	if v.Saved != nil {
		for _, p := range v.Saved.Problems {
			fmt.Fprintf(w, "not saved as it was: %s: %s\n", p.Place, p.Text)
		}
		fmt.Fprintf(w, "%d readings are in %s\n", v.Saved.Readings, v.Saved.Path)
	}
	return nil
}
