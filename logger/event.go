package logger

import (
	"fmt"
	"time"

	"soakline/checks"
	"soakline/device"
	"soakline/logger/book"
)

// lately is what an instrument has had to say again and again. The book keeps the
// first of a run of equal events and, once a minute and at its end, how many
// there were: an instrument that is silent for a weekend is no million entries.
type lately struct {
	event device.Event
	count int
	since time.Time
}

// repeatAfter is how often a run of equal events is told.
const repeatAfter = time.Minute

// note writes an event into the log and the book.
func (b *Bench) note(e device.Event) {
	run := b.told[e.Instrument]
	if run != nil && run.event.Kind == e.Kind {
		run.count++
		run.event = e
		return
	}
	if run != nil {
		b.tellRun(run)
	}
	b.told[e.Instrument] = &lately{event: e, since: e.At}
	b.record(e)
}

// tellLately tells of runs that go on.
func (b *Bench) tellLately(now time.Time) {
	for _, run := range b.told {
		if run.count > 0 && now.Sub(run.since) >= repeatAfter {
			b.tellRun(run)
			run.since = now
		}
	}
}

// tellAll tells of all runs, because the bench stops.
func (b *Bench) tellAll() {
	for _, run := range b.told {
		b.tellRun(run)
	}
}

// tellRun writes how often an event came again.
func (b *Bench) tellRun(run *lately) {
	if run.count == 0 {
		return
	}
	e := run.event
	times := "once"
	if run.count > 1 {
		times = fmt.Sprintf("%d times", run.count)
	}
	e.Text = fmt.Sprintf("%s more: %s", times, e.Text)
	run.count = 0
	b.record(e)
}

func (b *Bench) record(e device.Event) {
	switch e.Kind {
	case device.Opened, device.Returned:
		b.options.Log.Info("instrument", "instrument", e.Instrument, "kind", e.Kind, "text", e.Text)
	default:
		b.options.Log.Warn("instrument", "instrument", e.Instrument, "kind", e.Kind, "text", e.Text)
	}
	if e.Kind != Discharged { // which is told as it stands
		b.Tell(Happening{At: e.At, Kind: PortChange, Instrument: e.Instrument, Event: e.Kind, Text: e.Text})
	}
	if err := b.writer.PutEvent(book.Event{Bench: b.settings.Bench, Event: e}); err != nil {
		b.options.Log.Error("an event did not get into the book", "instrument", e.Instrument, "kind", e.Kind, "error", err)
	}
}

// changed passes on what a reading or the passing of time has changed.
func (b *Bench) changed(soak *liveSoak, changes []checks.Change) {
	for _, change := range changes {
		b.tellChange(soak, change)
		switch change.Kind {
		case checks.ExcursionBegun, checks.ExcursionEnded:
			b.Counters.excursion(soak.unit, change)
			b.keep(soak, change.Excursion)
			b.options.Log.Warn("excursion", "unit", soak.unit, "check", change.Check, "kind", change.Kind,
				"state", change.Excursion.State, "worst", change.Excursion.Worst, "limit", change.Excursion.Limit)
		case checks.CheckRefused:
			b.options.Log.Error("a check cannot be decided", "unit", soak.unit, "check", change.Check, "why", change.Text)
		default:
			soak.recordsOf(change.Check.TestPoint).changed = true
			b.options.Log.Info("state", "unit", soak.unit, "check", change.Check, "from", change.From, "to", change.To)
		}
	}
}

// keep writes an excursion as it is now.
func (b *Bench) keep(soak *liveSoak, e checks.Excursion) {
	if err := b.writer.PutExcursion(soak.id, e); err != nil {
		b.options.Log.Error("an excursion did not get into the book", "unit", soak.unit, "check", e.Check, "error", err)
	}
}
