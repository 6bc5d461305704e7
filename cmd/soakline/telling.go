package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"path/filepath"
	"time"

	"github.com/spf13/cobra"
	"golang.org/x/sync/errgroup"

	"soakline/config"
	"soakline/logger/notify"
)

// telling is all that tells people what happens at a bench.
type telling struct {
	watcher  *notify.Watcher
	couriers []*notify.Courier
}

// newTelling prepares it; nothing is told before run.
func newTelling(bench notify.Bench, settings config.Bench, log *slog.Logger) (*telling, error) {
	couriers, err := newCouriers(settings.Notify, log)
	if err != nil {
		return nil, err
	}
	t := &telling{couriers: couriers}
	free := func() (uint64, error) { return notify.FreeBytes(filepath.Dir(settings.Book)) }
	t.watcher = notify.NewWatcher(bench, settings.Notify, free, t.take, log)
	return t, nil
}

func newCouriers(settings notify.Settings, log *slog.Logger) ([]*notify.Courier, error) {
	var couriers []*notify.Courier
	var wrong []error
	for _, target := range settings.Targets {
		c, err := notify.NewCourier(target, log)
		couriers, wrong = append(couriers, c), append(wrong, err)
	}
	return couriers, errors.Join(wrong...)
}

func (t *telling) take(n notify.Notice) {
	for _, c := range t.couriers {
		c.Take(n)
	}
}

// run tells until the context ends; the couriers go on until the watcher has seen all
// that happened.
func (t *telling) run(ctx context.Context) error {
	delivering, stop := context.WithCancel(context.WithoutCancel(ctx))
	defer stop()
	var group errgroup.Group
	for _, c := range t.couriers {
		group.Go(func() error { return c.Run(delivering) })
	}
	group.Go(func() error {
		defer stop()
		return t.watcher.Run(ctx)
	})
	return group.Wait()
}

func notifyCommand() *cobra.Command {
	var flags benchFlags
	cmd := &cobra.Command{
		Use:   "notify [TARGET …]",
		Short: "Send a trial notice to the targets that the bench tells",
		Long: `Send a trial notice to the targets under notify in the bench's file, or to those that
are named, and say whether it arrived. Nothing else is needed to run for it.`,
		Example: "  soakline notify --bench bench.yaml\n  soakline notify workshop",
		RunE: func(cmd *cobra.Command, args []string) error {
			bench, err := flags.load(cmd)
			if err != nil {
				return err
			}
			return sendTrials(cmd, bench, args)
		},
	}
	flags.addTo(cmd)
	return cmd
}

// sendTrials sends one to each target asked for, and says of each how it went.
func sendTrials(cmd *cobra.Command, bench config.Bench, names []string) error {
	if len(bench.Notify.Targets) == 0 {
		return wrongUsage(fmt.Errorf("%s tells nobody: there is no notify in it", bench.File))
	}
	wanted := map[string]bool{}
	for _, name := range names {
		wanted[name] = true
	}
	var failed []error
	for _, target := range bench.Notify.Targets {
		if len(names) > 0 && !wanted[target.Name] {
			continue
		}
		delete(wanted, target.Name)
		courier, err := notify.NewCourier(target, slog.New(slog.DiscardHandler))
		if err == nil {
			err = courier.Send(cmd.Context(), notify.TrialNotice(bench.Bench, time.Now()))
		}
		if err != nil {
			failed = append(failed, err)
			continue
		}
		fmt.Fprintf(cmd.OutOrStdout(), "%s: told\n", target.Name)
	}
	for name := range wanted {
		failed = append(failed, wrongUsage(fmt.Errorf("%s has no notify target %q", bench.File, name)))
	}
	return errors.Join(failed...)
}
