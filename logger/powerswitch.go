package logger

import (
	"context"
	"errors"
	"fmt"
	"time"

	"soakline/checks"
	"soakline/device"
)

// How a unit is switched (common practice, no source).
const (
	// switchPatience is how long one command may take, and switchTries how often it
	// is given before it is trouble.
	switchPatience = 5 * time.Second
	switchTries    = 3
)

// switchOff writes the pause and then switches off. Where either fails nothing more
// is switched, and the time that the pause would have had is an ordinary one.
func (b *Bench) switchOff(ctx context.Context, soak *liveSoak) {
	p := soak.power
	p.phase = powerBusy
	pause := p.pause
	b.finishing.Go(func() {
		err := b.options.Book.PutPause(ctx, soak.id, pause)
		if err == nil {
			err = b.switchOutput(ctx, p, false)
		}
		b.settleSwitch(ctx, func() {
			if err != nil {
				p.pause.To, p.pause.Kind = b.now(), checks.NotFollowed
				soak.judgement.Continue(p.pause)
				b.giveUpCycles(soak, "could not be switched off", err)
				return
			}
			p.phase, p.since, p.off = powerOff, b.now(), newOffWatch(p.sheet, p.plan.TestPoint, b.now())
			if p.pause.Kind == checks.PlannedPause {
				b.tellPower(soak, fmt.Sprintf("off, pause %d of %d", p.done+1, p.plan.Cycles))
			}
		})
		if err != nil {
			b.keepPause(ctx, soak)
		}
	})
}

// switchOn switches on and writes the end of the pause. Where it fails the output is
// left off, and what is missing is missing in the evidence.
func (b *Bench) switchOn(ctx context.Context, soak *liveSoak) {
	p := soak.power
	first := p.phase == powerBegins
	stayed := p.off.stayed(b.now())
	p.phase = powerBusy
	b.finishing.Go(func() {
		err := b.coverOutput(soak)
		if err == nil {
			err = b.switchOutput(ctx, p, true)
		}
		b.settleSwitch(ctx, func() {
			if err != nil {
				b.giveUpCycles(soak, "could not be switched on", err)
				return
			}
			p.phase, p.since = powerOn, b.now()
			if !first {
				b.endPause(soak, stayed)
			}
		})
		if err != nil {
			b.forceOff(ctx, soak)
		} else if !first {
			b.keepPause(ctx, soak)
		}
	})
}

// endPause ends a pause with the unit on again. stayed says that the unit had not
// gone off; then that was no cycle, and there is no use in more of them.
func (b *Bench) endPause(soak *liveSoak, stayed string) {
	p := soak.power
	p.pause.To, p.off = p.since, nil
	if stayed != "" {
		p.pause.Kind = checks.NotFollowed
	}
	soak.judgement.Continue(p.pause)
	switch {
	case stayed != "":
		p.phase = powerLeft
		b.tellPower(soak, "the unit did not go off with the output, and is switched no more: "+stayed+
			"; give it a longer time off in the sheet, or look whether it hangs on that output")
	case p.pause.Kind == checks.PlannedPause:
		p.done++
		p.start = newStartWatch(p.since, p.done)
	}
}

// settleSwitch has the owner take note of what a command did. A bench that has
// stopped has left its outputs off.
func (b *Bench) settleSwitch(ctx context.Context, note func()) {
	if err := b.ask(ctx, note); err != nil && !errors.Is(err, ErrStopped) && ctx.Err() == nil {
		b.options.Log.Error("a unit was switched and nobody took note", "error", err)
	}
}

// keepPause writes the pause as it ended. Without it the judgement takes the pause
// for one that never ended, which is never a pass that was not earned.
func (b *Bench) keepPause(ctx context.Context, soak *liveSoak) {
	var pause checks.Pause
	b.settleSwitch(ctx, func() { pause = soak.power.pause })
	if pause.From.IsZero() {
		return
	}
	if err := b.options.Book.PutPause(ctx, soak.id, pause); err != nil {
		b.options.Log.Error("the end of a pause did not get into the book", "soak", soak.id, "unit", soak.unit, "error", err)
	}
}

// switchOutput gives the command, more than once if need be.
func (b *Bench) switchOutput(ctx context.Context, p *powerCycles, on bool) (err error) {
	keeper := b.keepers[p.instrument]
	for range switchTries {
		try, cancel := context.WithTimeout(ctx, switchPatience)
		err = keeper.Do(try, func(ctx context.Context, s *device.Session) error { return s.SwitchOutput(ctx, p.channel, on) })
		cancel()
		if err == nil || ctx.Err() != nil {
			return err
		}
	}
	return err
}
