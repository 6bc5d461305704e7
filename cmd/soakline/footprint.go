package main

import (
	"context"
	"log/slog"
	"runtime/debug"
	"time"
)

// How often a daemon gives back what it does not use: soon after the start, which
// needs most, then less and less often.
const firstLeave, longestLeave = 2 * time.Second, 10 * time.Minute

// staySmall gives memory back that is not used, until the context ends.
func staySmall(ctx context.Context, log *slog.Logger) {
	for pause := firstLeave; ; pause = min(2*pause, longestLeave) {
		timer := time.NewTimer(pause)
		select {
		case <-ctx.Done():
			timer.Stop()
			return
		case <-timer.C:
		}
		debug.FreeOSMemory() // what reading the configuration left behind
		if err := leaveUnused(); err != nil {
			log.Debug("memory that is not used is not given back", "error", err)
			return
		}
	}
}
