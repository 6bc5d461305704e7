package main

import (
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"soakline/config"
)

func checkCommand() *cobra.Command {
	return &cobra.Command{
		Use:   "check FILE",
		Short: "Check a bench's file with every sheet and command set that it names",
		Long: `Check a bench's file with every test sheet and command set that it names. Every
mistake is told in one run, with file, line and key. Nothing is opened.`,
		Example: "  soakline check bench.yaml",
		Args:    oneArgument,
		RunE: func(cmd *cobra.Command, args []string) error {
			bench, err := config.Load(args[0], nil)
			mistakes := config.Mistakes(err)
			if len(mistakes) == 0 {
				if err != nil {
					return wrongUsage(err)
				}
				fmt.Fprintf(cmd.OutOrStdout(), "bench %s: %d instruments, %d places, %d test sheets; no mistake found\n",
					bench.Bench, len(bench.Instruments), len(bench.Places), len(bench.Sheets))
				for _, path := range openToAll(bench.SecretFiles) {
					fmt.Fprintf(cmd.ErrOrStderr(), "mind: everybody on this machine can read %s, which holds a secret: chmod o-rwx %s\n", path, path)
				}
				return nil
			}
			for _, mistake := range mistakes {
				fmt.Fprintln(cmd.ErrOrStderr(), mistake)
			}
			if len(mistakes) == 1 {
				return wrongUsage(errors.New("1 mistake"))
			}
			return wrongUsage(fmt.Errorf("%d mistakes", len(mistakes)))
		},
	}
}
