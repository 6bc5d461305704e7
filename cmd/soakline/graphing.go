package main

import (
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"soakline/config"
)

func graphingCommand() *cobra.Command {
	var dir string
	var replace bool
	cmd := &cobra.Command{
		Use:   "graphing",
		Short: "Write the files with which Prometheus and a graph server show a bench",
		Long: `Write the files with which Prometheus and a graph server show a bench: what to
scrape, recording rules, alerts, data sources and dashboards. They are the ones that
docker-compose.yml uses. A file that was changed is kept unless --replace is given.`,
		Example: "  soakline graphing --dir graphing",
		Args:    noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			written, err := config.WriteGraphing(dir, replace)
			for _, path := range written {
				fmt.Fprintln(cmd.OutOrStdout(), path)
			}
			if errors.Is(err, config.ErrDiffers) {
				return wrongUsage(fmt.Errorf("%w; to write it anew, give --replace", err))
			}
			if err == nil && len(written) == 0 {
				fmt.Fprintln(cmd.OutOrStdout(), "all files are there already")
			}
			return err
		},
	}
	cmd.Flags().StringVar(&dir, "dir", "graphing", "folder to write into")
	cmd.Flags().BoolVar(&replace, "replace", false, "write over files that were changed")
	return cmd
}
