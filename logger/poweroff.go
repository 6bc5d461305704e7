package logger

import (
	"context"
	"errors"
	"fmt"
	"time"

	"soakline/checks"
)

// offPatience is how long the end of the program waits for outputs to be off (common
// practice, no source).
const offPatience = 5 * time.Second

// leaveOff switches the unit off where its soak has ended.
func (b *Bench) leaveOff(ctx context.Context, soak *liveSoak) {
	if soak.power == nil {
		return
	}
	soak.power.phase = powerLeft
	b.finishing.Go(func() { b.forceOff(context.WithoutCancel(ctx), soak) })
}

// forceOff switches off, and says so where it can't: then whoever stands by still
// tries when the program has ended.
func (b *Bench) forceOff(ctx context.Context, soak *liveSoak) {
	if err := b.switchOutput(ctx, soak.power, false); err != nil {
		b.options.Log.Error("an output could not be switched off: look at it", "instrument", soak.power.instrument, "unit", soak.unit, "error", err)
		return
	}
	b.uncoverOutput(soak)
}

// outputsOff switches off every output that a soak switches, as the bench stops. The
// pauses that begin so are in the book: the soaks go on with the next start.
func (b *Bench) outputsOff(ctx context.Context) error {
	ctx, cancel := context.WithTimeout(ctx, offPatience)
	defer cancel()
	var soaks []*liveSoak
	var pauses []checks.Pause
	err := b.ask(ctx, func() {
		for _, soak := range b.soaks {
			p := soak.power
			if p == nil {
				continue
			}
			if p.phase == powerOn || p.phase == powerEnding {
				p.pause = checks.Pause{From: b.now(), Kind: checks.InterruptedPause}
				b.changed(soak, soak.judgement.Pause(p.pause))
			}
			p.phase = powerLeft
			soaks, pauses = append(soaks, soak), append(pauses, p.pause)
		}
	})
	if err != nil {
		return fmt.Errorf("switch outputs off: %w", err)
	}
	for i, soak := range soaks {
		if pause := pauses[i]; pauseLasts(pause) {
			err = errors.Join(err, b.options.Book.PutPause(ctx, soak.id, pause))
		}
		b.forceOff(ctx, soak)
	}
	return err
}
