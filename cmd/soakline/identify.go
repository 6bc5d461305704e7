package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"soakline/device"
	"soakline/device/port"
)

func identifyCommand() *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "identify PORT",
		Short: "Find out which instrument is on a port, and at which speed and ending it answers",
		Long: `Find out which instrument is on a port. Common speeds and endings are tried until
*IDN? is answered or lines come by themselves. Only questions are asked, and *CLS,
which empties the instrument's error queue; a meter is put on its DC voltage range.`,
		Example: "  soakline identify /dev/ttyUSB0",
		Args:    oneArgument,
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := rightAddress(args[0]); err != nil {
				return err
			}
			progress := newProgress(cmd.ErrOrStderr())
			found, err := device.Identify(cmd.Context(), args[0], progress.trying)
			progress.end()
			if err != nil {
				return portTrouble(err)
			}
			view := viewFound(found, bestAddress(cmd.Context(), args[0], found.Port))
			if asJSON {
				return printJSON(cmd.OutOrStdout(), view)
			}
			printFound(cmd.OutOrStdout(), view)
			return nil
		},
	}
	addJSONFlag(cmd, &asJSON)
	return cmd
}

// rightAddress makes a misspelled port wrong usage.
func rightAddress(address string) error {
	_, err := port.ParseAddress(address)
	return wrongUsage(err)
}

// portTrouble puts what to do about it behind an error.
func portTrouble(err error) error {
	hint := ""
	if own, ok := errors.AsType[*device.Error](err); ok {
		hint = own.Hint
	} else if own, ok := errors.AsType[*port.Error](err); ok {
		hint = own.Hint
	}
	if hint == "" {
		return err
	}
	return fmt.Errorf("%w (%s)", err, hint)
}

// bestAddress is the name under which a port is found again tomorrow, if there is
// a better one than what was given.
func bestAddress(ctx context.Context, given, name string) string {
	if strings.Contains(given, "://") || strings.HasPrefix(given, "usb:") {
		return given
	}
	ports, err := port.List(ctx)
	if err != nil {
		return given // only its better name is lost
	}
	for _, p := range ports {
		if p.Path == name && given == name {
			return p.Address()
		}
	}
	return given
}

// progress shows on a terminal what is being tried.
type progress struct {
	w     io.Writer
	shown bool
}

func newProgress(w io.Writer) *progress {
	if !onTerminal(w) {
		w = io.Discard
	}
	return &progress{w: w}
}

func (p *progress) trying(l device.LineSettings) {
	p.shown = true
	fmt.Fprintf(p.w, "\r\x1b[Ktrying %s ", l)
}

func (p *progress) end() {
	if p.shown {
		fmt.Fprint(p.w, "\r\x1b[K")
	}
}
