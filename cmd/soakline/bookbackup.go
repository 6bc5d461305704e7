package main

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"soakline/logger/book"
)

func bookBackupCommand() *cobra.Command {
	var flags benchFlags
	cmd := &cobra.Command{
		Use:   "backup FILE",
		Short: "Copy the book while it is in use, and check the copy",
		Long: "Writes a copy of the book as it is at one moment, also while a daemon writes to\n" +
			"it, reads the whole copy as book check does, and only then gives it its name. The\n" +
			"file must not exist.",
		Example: "  soakline book backup /media/stick/bench-2026-11-25.book",
		Args:    oneArgument,
		RunE: func(cmd *cobra.Command, args []string) error {
			return flags.readBook(cmd, func(ctx context.Context, b *book.Book) error {
				told := tellHowFar(cmd.ErrOrStderr(), "blocks checked")
				defer told.end()
				size, err := b.Backup(ctx, args[0], told.say)
				if err != nil {
					return err
				}
				told.end()
				_, err = fmt.Fprintf(cmd.OutOrStdout(), "%s, %s, checked\n", args[0], bytesInWords(size))
				return err
			})
		},
	}
	flags.addTo(cmd)
	return cmd
}
