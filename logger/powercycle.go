package logger

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"soakline/checks"
	"soakline/device"
)

// PowerCycled is the kind of event that says how a soak switches its unit.
const PowerCycled device.Kind = "power-cycle"

// How a unit is switched (common practice, no source).
const (
	// switchPatience is how long one command may take, and switchTries how often it
	// is given before it is trouble.
	switchPatience = 5 * time.Second
	switchTries    = 3
	// offPatience is how long the end of the program waits for outputs to be off.
	offPatience = 5 * time.Second
)

// powerPhase is where a soak's power cycles are.
type powerPhase int

const (
	powerBegins powerPhase = iota // before the first switching on
	powerBusy                     // a command is under way
	powerOn
	powerEnding // on, and readings from now on are no longer judged
	powerOff
	powerLeft // nothing more is switched
)

// powerCycles switch one unit off and on. They are the owner's.
type powerCycles struct {
	plan                checks.CyclePlan
	instrument, channel string
	settle              time.Duration // the longest of the sheet
	sheet               checks.Sheet
	phase               powerPhase
	since               time.Time // when the phase began
	pause               checks.Pause
	done                int // pauses that are over
	start               *startWatch
}

// newPowerCycles are those that a sheet plans; nil where it plans none, or the place
// does not have the instrument.
func newPowerCycles(sheet checks.Sheet, place Place) *powerCycles {
	if sheet.Soak.Cycles == nil {
		return nil
	}
	p := &powerCycles{plan: *sheet.Soak.Cycles, sheet: sheet}
	for _, point := range sheet.TestPoints {
		for _, check := range point.Checks {
			p.settle = max(p.settle, check.Settle)
		}
	}
	at := slices.IndexFunc(place.Connections, func(c Connection) bool { return c.TestPoint == p.plan.TestPoint })
	if at < 0 {
		return nil
	}
	p.instrument, p.channel = place.Connections[at].Instrument, place.Connections[at].Channel
	return p
}

// takeUp goes on after the program was away: nobody knows how the output is, so the
// unit is switched off first, and on again after the planned time.
func (p *powerCycles) takeUp(pauses []checks.Pause) {
	p.phase, p.done = powerOn, len(pauses)
	p.since = time.Time{} // its time on is long over
	if n := len(pauses); n > 0 && pauses[n-1].To.IsZero() {
		p.done--
		p.pause, p.phase = pauses[n-1], powerOff
	} else if p.done >= p.plan.Cycles {
		p.done = p.plan.Cycles - 1 // one more
	}
}

// cyclePower does what is due. The owner calls it at every tick.
func (b *Bench) cyclePower(ctx context.Context, soak *liveSoak, now time.Time) {
	p := soak.power
	if p == nil {
		return
	}
	b.tellStart(soak, now)
	switch p.phase {
	case powerBegins:
		b.switchOn(ctx, soak)
	case powerOn:
		if p.done < p.plan.Cycles && !now.Before(p.since.Add(p.plan.On)) {
			// Readings that are on their way are judged yet: the rest waits for them.
			p.phase, p.pause = powerEnding, checks.Pause{From: b.now()}
		}
	case powerEnding:
		if !now.Before(p.pause.From.Add(endGrace)) {
			b.changed(soak, soak.judgement.Pause(p.pause.From))
			b.switchOff(ctx, soak)
		}
	case powerOff:
		if !now.Before(p.since.Add(p.plan.Off)) {
			b.switchOn(ctx, soak)
		}
	}
}

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
				p.pause.To = b.now()
				soak.judgement.Continue(p.pause.To)
				b.giveUpCycles(soak, "could not be switched off", err)
				return
			}
			p.phase, p.since = powerOff, b.now()
			b.tellPower(soak, fmt.Sprintf("off, pause %d of %d", p.done+1, p.plan.Cycles))
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
	p.phase = powerBusy
	b.finishing.Go(func() {
		err := b.switchOutput(ctx, p, true)
		b.settleSwitch(ctx, func() {
			if err != nil {
				b.giveUpCycles(soak, "could not be switched on", err)
				return
			}
			p.phase, p.since = powerOn, b.now()
			if !first {
				p.pause.To = p.since
				soak.judgement.Continue(p.pause.To)
				p.done++
				p.start = newStartWatch(p.since, p.done)
			}
		})
		if err != nil {
			b.forceOff(ctx, soak)
		} else if !first {
			b.keepPause(ctx, soak)
		}
	})
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

func (b *Bench) tellPower(soak *liveSoak, text string) {
	b.record(device.Event{Instrument: soak.power.instrument, Kind: PowerCycled, At: b.now(), Text: string(soak.unit) + ": " + text})
}

func (b *Bench) giveUpCycles(soak *liveSoak, what string, why error) {
	soak.power.phase = powerLeft
	b.tellPower(soak, fmt.Sprintf("the unit %s, and is switched no more: %v", what, why))
}

// leaveOff switches the unit off where its soak has ended.
func (b *Bench) leaveOff(ctx context.Context, soak *liveSoak) {
	if soak.power == nil {
		return
	}
	soak.power.phase = powerLeft
	b.finishing.Go(func() { b.forceOff(context.WithoutCancel(ctx), soak) })
}

// forceOff switches off, and says so where it can't.
func (b *Bench) forceOff(ctx context.Context, soak *liveSoak) {
	if err := b.switchOutput(ctx, soak.power, false); err != nil {
		b.options.Log.Error("an output could not be switched off: look at it", "instrument", soak.power.instrument, "unit", soak.unit, "error", err)
	}
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
			if p.phase == powerOn {
				p.pause = checks.Pause{From: b.now()}
				b.changed(soak, soak.judgement.Pause(p.pause.From))
			}
			p.phase = powerLeft
			soaks, pauses = append(soaks, soak), append(pauses, p.pause)
		}
	})
	if err != nil {
		return fmt.Errorf("switch outputs off: %w", err)
	}
	for i, soak := range soaks {
		if pause := pauses[i]; pause.To.IsZero() && !pause.From.IsZero() {
			err = errors.Join(err, b.options.Book.PutPause(ctx, soak.id, pause))
		}
		b.forceOff(ctx, soak)
	}
	return err
}
