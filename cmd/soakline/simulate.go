package main

import (
	"fmt"
	"os"

	"github.com/spf13/cobra"

	"soakline/device/simbench"
)

// simulateCommand runs simulated instruments in a process of their own, so that
// what reads them has nothing of them but their ports.
func simulateCommand() *cobra.Command {
	var configFile, dir string
	cmd := &cobra.Command{
		Use:   "simulate (--demo DIR | --config FILE)",
		Short: "Run simulated instruments behind real ports until standard input ends",
		Long: `Run simulated instruments. One line of JSON says where their ports are; then
lines on standard input turn faults on and off ("fault meter silence 3s").`,
		Example: "  soakline simulate --demo /tmp/bench",
		Args:    noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			settings, err := simulateSettings(configFile, dir)
			if err != nil {
				return err
			}
			return simbench.Serve(cmd.Context(), settings, cmd.InOrStdin(), cmd.OutOrStdout())
		},
	}
	cmd.Flags().StringVar(&configFile, "config", "", "JSON file that describes the simulated bench")
	cmd.Flags().StringVar(&dir, "demo", "", "simulate the demo's bench, its ports in this folder")
	cmd.MarkFlagsOneRequired("config", "demo")
	cmd.MarkFlagsMutuallyExclusive("config", "demo")
	return cmd
}

func simulateSettings(configFile, dir string) (simbench.Config, error) {
	if dir != "" {
		if err := os.MkdirAll(dir, 0o700); err != nil {
			return simbench.Config{}, err
		}
		return simbench.DemoConfig(dir), nil
	}
	file, err := os.Open(configFile)
	if err != nil {
		return simbench.Config{}, err
	}
	defer file.Close()
	settings, err := simbench.ReadConfig(file)
	if err != nil {
		return simbench.Config{}, wrongUsage(fmt.Errorf("%s: %w", configFile, err))
	}
	return settings, nil
}
