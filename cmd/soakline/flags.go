package main

import "github.com/spf13/cobra"

// dayAndTime is how a moment is written for a person, by the bench's clock.
const dayAndTime = "2006-01-02 15:04:05"

// addJSONFlag gives a command --json.
func addJSONFlag(cmd *cobra.Command, asJSON *bool) {
	cmd.Flags().BoolVar(asJSON, "json", false, "write JSON")
}

// mustRequire makes flags required; a flag that is not there is a mistake of the
// program's own.
func mustRequire(cmd *cobra.Command, names ...string) {
	for _, name := range names {
		if err := cmd.MarkFlagRequired(name); err != nil {
			panic(err)
		}
	}
}
