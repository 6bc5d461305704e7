package main

import (
	"fmt"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"
)

// manualCommand writes what a package installs beside the program; whoever builds
// one calls it.
func manualCommand() *cobra.Command {
	return &cobra.Command{
		Use:     "manual DIR",
		Short:   "Write man pages and shell completions of every command into a folder",
		Example: "  soakline manual dist/manual",
		Hidden:  true,
		Args:    oneArgument,
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := os.MkdirAll(args[0], 0o750); err != nil {
				return err
			}
			root := cmd.Root()
			if err := writeManual(root, args[0]); err != nil {
				return err
			}
			return writeCompletions(root, args[0])
		},
	}
}

// writeManual writes a page for a command and for each below it.
func writeManual(cmd *cobra.Command, dir string) error {
	name := filepath.Join(dir, pageName(cmd)+".1")
	if err := os.WriteFile(name, []byte(manPage(cmd)), 0o600); err != nil {
		return fmt.Errorf("write a man page: %w", err)
	}
	for _, child := range documented(cmd) {
		if err := writeManual(child, dir); err != nil {
			return err
		}
	}
	return nil
}

// writeCompletions writes them under the names by which the shells find them.
func writeCompletions(root *cobra.Command, dir string) error {
	for name, write := range map[string]func(string) error{
		"soakline.bash": func(name string) error { return root.GenBashCompletionFileV2(name, true) },
		"soakline.fish": func(name string) error { return root.GenFishCompletionFile(name, true) },
		"_soakline":     root.GenZshCompletionFile,
	} {
		if err := write(filepath.Join(dir, name)); err != nil {
			return fmt.Errorf("write a shell's completions: %w", err)
		}
	}
	return nil
}

// documented are the commands below one that its user is told of.
func documented(cmd *cobra.Command) []*cobra.Command {
	var shown []*cobra.Command
	for _, child := range cmd.Commands() {
		if child.IsAvailableCommand() && !child.IsAdditionalHelpTopicCommand() {
			shown = append(shown, child)
		}
	}
	return shown
}
