package logger

import (
	"context"
	"fmt"
	"slices"
	"time"

	"soakline/checks"
	"soakline/device"
)

// PowerCycled is the kind of event that says how a soak switches its unit.
const PowerCycled device.Kind = "power-cycle"

// powerPhase is where a soak's power cycles are.
type powerPhase int

const (
	powerBegins powerPhase = iota // before the first switching on
	powerBusy                     // a command is under way
	powerOn
	powerEnding // on, and readings from now on are no longer judged
	powerOff
	powerUnknown // the program was away, and nobody knows
	powerLeft    // nothing more is switched
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
	done                int // planned pauses that are over
	start               *startWatch
	off                 *offWatch
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
// unit is switched off first, and on again after the planned time. What that cut
// short is no cycle.
func (p *powerCycles) takeUp(pauses []checks.Pause) {
	p.phase, p.done = powerUnknown, 0
	for _, pause := range pauses {
		switch {
		case pause.To.IsZero():
			p.pause = pause
		case pause.Kind == checks.PlannedPause:
			p.done++
		}
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
	case powerUnknown:
		if !pauseLasts(p.pause) {
			p.pause = checks.Pause{From: b.now(), Kind: checks.InterruptedPause}
			b.changed(soak, soak.judgement.Pause(p.pause))
		}
		b.tellPower(soak, "the program was away, and nobody knows how the output was: it is switched off first")
		b.switchOff(ctx, soak)
	case powerOn:
		if p.done < p.plan.Cycles && !now.Before(p.since.Add(p.plan.On)) {
			// Readings that are on their way are judged yet: the rest waits for them.
			p.phase, p.pause = powerEnding, checks.Pause{From: b.now()}
		}
	case powerEnding:
		if !now.Before(p.pause.From.Add(endGrace)) {
			b.changed(soak, soak.judgement.Pause(p.pause))
			b.switchOff(ctx, soak)
		}
	case powerOff:
		if !now.Before(p.since.Add(p.plan.Off)) {
			b.switchOn(ctx, soak)
		}
	}
}

// pauseLasts tells a pause that has begun and is not over.
func pauseLasts(p checks.Pause) bool { return !p.From.IsZero() && p.To.IsZero() }

func (b *Bench) tellPower(soak *liveSoak, text string) {
	b.record(device.Event{Instrument: soak.power.instrument, Kind: PowerCycled, At: b.now(), Text: string(soak.unit) + ": " + text})
}

func (b *Bench) giveUpCycles(soak *liveSoak, what string, why error) {
	soak.power.phase = powerLeft
	b.tellPower(soak, fmt.Sprintf("the unit %s, and is switched no more: %v", what, why))
}
