package main

import (
	"context"
	"fmt"
	"log/slog"
	"time"

	systemd "github.com/coreos/go-systemd/v22/daemon"

	"soakline/logger"
)

// supervised tells the service manager that the bench runs, and from then on, as
// often as that wants it (WATCHDOG_USEC, sd_watchdog_enabled(3)), that it still
// does: only while the bench's owner answers. Where no service manager has started
// the program (no NOTIFY_SOCKET, sd_notify(3)) it does nothing but wait.
func supervised(ctx context.Context, bench *logger.Bench, log *slog.Logger) error {
	interval, err := systemd.SdWatchdogEnabled(false)
	if err != nil {
		return fmt.Errorf("the service manager's watchdog: %w", err)
	}
	if _, err := bench.Snapshot(ctx); err != nil {
		return nil // it did not come up, and says so itself
	}
	told, err := systemd.SdNotify(false, systemd.SdNotifyReady+"\nSTATUS=bench "+bench.Settings().Bench+" is running")
	if err != nil {
		return fmt.Errorf("tell the service manager: %w", err)
	}
	if told && interval > 0 {
		watchOwner(ctx, bench, interval, log)
	}
	<-ctx.Done()
	if _, err := systemd.SdNotify(false, systemd.SdNotifyStopping); err != nil {
		log.Warn("the service manager was not told of the stop", "error", err)
	}
	return nil
}

// watchOwner gives a sign of life twice in each interval until the context ends.
// Without an answer of the bench's owner there is none, and the service manager
// starts the program again.
func watchOwner(ctx context.Context, bench *logger.Bench, interval time.Duration, log *slog.Logger) {
	signs := time.NewTicker(interval / 2)
	defer signs.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-signs.C:
		}
		patience, cancel := context.WithTimeout(ctx, interval/4)
		_, err := bench.Snapshot(patience)
		cancel()
		if ctx.Err() != nil {
			return
		}
		if err == nil {
			_, err = systemd.SdNotify(false, systemd.SdNotifyWatchdog)
		}
		if err != nil {
			log.Error("no sign of life for the service manager", "error", err)
		}
	}
}
