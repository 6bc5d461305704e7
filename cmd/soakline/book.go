package main

import (
	"github.com/spf13/cobra"
)

func bookCommand() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "book",
		Short: "Look at the book, check it, take readings out of it and put some in",
		Args:  noArguments,
		RunE:  func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	cmd.AddCommand(bookInfoCommand(), bookCheckCommand(), bookExportCommand(), bookImportCommand(), bookBackupCommand(),
		bookGapsCommand(), bookThinCommand(), bookShrinkCommand())
	return cmd
}
