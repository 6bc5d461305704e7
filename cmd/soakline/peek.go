package main

import (
	"context"
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"soakline/device"
	"soakline/device/port"
	"soakline/device/scpi"
)

// peekFlags are what is asked, how often and at which setting.
type peekFlags struct {
	ask    string
	every  time.Duration
	count  int
	line   device.LineSettings
	asJSON bool
}

func peekCommand() *cobra.Command {
	var f peekFlags
	cmd := &cobra.Command{
		Use:   "peek PORT --ask QUERY",
		Short: "Show live values of one question, without any configuration",
		Long: `Show live values of one question, without any configuration, and their count, mean,
standard deviation and rate at the end (Ctrl-C). Only questions are sent. Without
--baud the speed and the ending are looked for first, as identify does.`,
		Example: "  soakline peek /dev/ttyUSB0 --ask 'MEAS:VOLT:DC?' --every 500ms",
		Args:    oneArgument,
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := f.check(args[0]); err != nil {
				return wrongUsage(err)
			}
			if err := f.findLine(cmd, args[0]); err != nil {
				return portTrouble(err)
			}
			return f.peek(cmd, args[0])
		},
	}
	flags := cmd.Flags()
	flags.StringVar(&f.ask, "ask", "", "the question, as the instrument's manual spells it")
	flags.DurationVar(&f.every, "every", 500*time.Millisecond, "time from one question to the next; 0s asks as fast as it answers")
	flags.IntVar(&f.count, "count", 0, "stop after so many readings; 0 goes on until Ctrl-C")
	flags.IntVar(&f.line.Baud, "baud", 0, "speed of the line in bits per second; 0 looks for it")
	flags.IntVar(&f.line.DataBits, "data-bits", 8, "5 to 8, with --baud")
	flags.StringVar(&f.line.Parity, "parity", "none", "none, odd, even, mark or space, with --baud")
	flags.StringVar(&f.line.StopBits, "stop-bits", "1", "1, 1.5 or 2, with --baud")
	flags.StringVar(&f.line.Flow, "flow", "none", "none or rts-cts, with --baud")
	flags.StringVar(&f.line.SendEnding, "ending", "lf", "what ends a question: lf, cr or crlf, with --baud")
	addJSONFlag(cmd, &f.asJSON)
	mustRequire(cmd, "ask")
	return cmd
}

// check refuses what cannot work, and every message that is no question: one that
// sets something could switch an output on.
func (f *peekFlags) check(address string) error {
	if _, err := port.ParseAddress(address); err != nil {
		return err
	}
	if err := scpi.ValidMessage(f.ask); err != nil {
		return fmt.Errorf("--ask %q: %w", f.ask, err)
	}
	if !onlyAsks(f.ask) {
		return fmt.Errorf("--ask %q: not only a question; peek sends nothing that could set or switch something, so each part must end in a question mark", f.ask)
	}
	if f.every < 0 {
		return fmt.Errorf("--every %s: is negative", f.every)
	}
	if f.count < 0 {
		return fmt.Errorf("--count %d: is negative", f.count)
	}
	if f.line.Baud == 0 {
		return nil
	}
	if err := f.line.Validate(); err != nil {
		return fmt.Errorf("settings of the line: %w", err)
	}
	return nil
}

// findLine looks for speed and ending where they were not given. A port that
// cannot be opened is told at once in either case.
func (f *peekFlags) findLine(cmd *cobra.Command, address string) error {
	if f.line.Baud != 0 {
		p, err := port.Open(cmd.Context(), address, port.Settings{Baud: f.line.Baud, DataBits: f.line.DataBits,
			Parity: f.line.Parity, StopBits: f.line.StopBits, Flow: f.line.Flow})
		if err != nil {
			return err
		}
		return p.Close()
	}
	progress := newProgress(cmd.ErrOrStderr())
	defer progress.end()
	line, err := device.FindLine(cmd.Context(), address, progress.trying)
	f.line = line
	return err
}

// peek shows readings until enough have come, Ctrl-C, or trouble before the first.
func (f *peekFlags) peek(cmd *cobra.Command, address string) error {
	ctx, cancel := context.WithCancel(cmd.Context())
	defer cancel()
	measure := measureOf(f.ask)
	p := newPeeper(cmd.OutOrStdout(), cmd.ErrOrStderr(), measure.Unit(), f.count, cancel)
	if f.asJSON {
		p.out = nil
	}
	keeper := device.NewKeeper(device.Link{Name: "instrument", Port: address, Commands: device.CommandSet{
		Name: "peek", Line: f.line, Asks: []device.Ask{{Measure: measure, Send: f.ask, Timeout: peekPatience}}}}, p)
	keeper.SetWants([]device.Want{{Measure: measure, Every: f.every}})
	if err := keeper.Run(ctx); err != nil {
		return err
	}
	if p.failed != nil {
		return p.failed
	}
	if f.asJSON {
		return printJSON(cmd.OutOrStdout(), p.summary())
	}
	p.end()
	return nil
}

// peekPatience is how long an answer may take: a meter that integrates over 100
// mains cycles takes 2 s, twice with its zero.
const peekPatience = 5 * time.Second
