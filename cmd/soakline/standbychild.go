package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"sync"
	"syscall"
	"time"

	"github.com/spf13/cobra"

	"soakline/device"
	"soakline/logger"
)

// standbyName is the name of the command that the program starts for itself.
const standbyName = "stand-by"

// How long the child tries to switch an output off whose program was killed, and how
// long one try may take (common practice, no source).
const (
	switchOffWithin = 2 * time.Minute
	switchOffTry    = 5 * time.Second
	switchOffPause  = 100 * time.Millisecond
)

// standbyCommand is the child of standby. Nobody needs to type it.
func standbyCommand() *cobra.Command {
	return &cobra.Command{
		Use:    standbyName,
		Short:  "Switch outputs off when the program that runs the bench was killed",
		Args:   noArguments,
		Hidden: true,
		RunE: func(cmd *cobra.Command, _ []string) error {
			// What ends the program must not end what stands by for it.
			signal.Ignore(os.Interrupt, syscall.SIGTERM, syscall.SIGHUP)
			left, err := hearOutputs(cmd.InOrStdin(), cmd.OutOrStdout())
			if err != nil {
				return err
			}
			ctx, cancel := context.WithTimeout(context.WithoutCancel(cmd.Context()), switchOffWithin)
			defer cancel()
			return switchAllOff(ctx, left, cmd.ErrOrStderr())
		},
	}
}

// hearOutputs follows what is to be off until the pipe ends, and returns what was left.
// Each line is answered with one.
func hearOutputs(from io.Reader, answers io.Writer) (left []logger.CoveredOutput, err error) {
	lines := json.NewDecoder(from)
	for {
		var outputs []logger.CoveredOutput
		if err := lines.Decode(&outputs); errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
			return left, nil
		} else if err != nil {
			return left, fmt.Errorf("what stands by was told something else than outputs: %w", err)
		}
		left = outputs
		if _, err := fmt.Fprintln(answers, "covered"); err != nil {
			return left, nil // nobody hears it any more: the program has ended
		}
	}
}

// switchAllOff switches the outputs off, all at once, and says how it went.
func switchAllOff(ctx context.Context, outputs []logger.CoveredOutput, log io.Writer) error {
	failed := make([]error, len(outputs))
	var all sync.WaitGroup
	for i, output := range outputs {
		all.Go(func() { failed[i] = switchOneOff(ctx, output) })
	}
	all.Wait()
	for i, output := range outputs {
		if failed[i] == nil {
			fmt.Fprintf(log, "soakline: the program was killed; the output of %s was switched off\n", output.Link.Name)
		}
	}
	return errors.Join(failed...)
}

// switchOneOff opens the instrument's port, again and again while somebody else has
// it, and gives the command until the instrument has taken it.
func switchOneOff(ctx context.Context, output logger.CoveredOutput) error {
	keeper := device.NewKeeper(output.Link, deaf{})
	keeper.Remember(output.Answered)
	keeping, stop := context.WithCancel(context.WithoutCancel(ctx))
	ended := make(chan error, 1)
	go func() { ended <- keeper.Run(keeping) }()
	err := switchOff(ctx, keeper, output.Channel)
	stop()
	if err = errors.Join(err, <-ended); err != nil {
		return fmt.Errorf("the program was killed, and the output of %s could not be switched off; look at it: %w", output.Link.Name, err)
	}
	return nil
}

func switchOff(ctx context.Context, keeper *device.Keeper, channel string) error {
	for {
		try, cancel := context.WithTimeout(ctx, switchOffTry)
		err := keeper.Do(try, func(ctx context.Context, s *device.Session) error { return s.SwitchOutput(ctx, channel, false) })
		cancel()
		if err == nil || ctx.Err() != nil {
			return err
		}
		select {
		case <-ctx.Done():
		case <-time.After(switchOffPause):
		}
	}
}

// deaf takes nothing that comes from an instrument.
type deaf struct{}

func (deaf) TakeReading(_, _ string, _ device.Reading) {}
func (deaf) TakeCapture(_, _ string, _ device.Capture) {}
func (deaf) TakeEvent(device.Event)                    {}
