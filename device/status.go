package device

import (
	"cmp"
	"errors"
	"fmt"
	"time"

	"soakline/device/port"
	"soakline/device/scpi"
)

// Status is how an instrument stands.
type Status struct {
	Instrument string
	// Up tells whether the port is open and the instrument answers.
	Up bool
	// Port is the name the port was last opened under.
	Port     string
	Identity scpi.Identity
	// Readings and Reopens count since the start.
	Readings, Reopens int
	LastReadingAt     time.Time
	// Trouble is the last trouble's sentence while it lasts.
	Trouble string
}

// Status returns how the instrument stands now.
func (k *Keeper) Status() Status {
	k.mu.Lock()
	defer k.mu.Unlock()
	return k.status
}

func (k *Keeper) setStatus(change func(*Status)) {
	k.mu.Lock()
	defer k.mu.Unlock()
	change(&k.status)
}

// opened notes that the instrument answers.
func (k *Keeper) opened(identity scpi.Identity, portName string) {
	k.setStatus(func(s *Status) {
		if s.Port != "" {
			s.Reopens++
		}
		s.Up, s.Port, s.Identity, s.Trouble = true, portName, identity, ""
	})
	text := "open on " + portName
	if identity != (scpi.Identity{}) {
		text += ": " + identity.Text
	}
	k.event(Opened, text)
}

// took passes a reading on; the first after trouble says that it is over.
func (k *Keeper) took(channel string, r Reading) {
	k.recovered(Want{Channel: channel, Measure: r.Measure}, r.At)
	k.setStatus(func(s *Status) { s.Readings++ })
	k.sink.TakeReading(k.link.Name, channel, r)
}

// tookCapture is took for a record.
func (k *Keeper) tookCapture(channel string, c Capture) {
	k.recovered(Want{Channel: channel}, c.At)
	k.sink.TakeCapture(k.link.Name, channel, c)
}

// recovered tells once that a want reads again.
func (k *Keeper) recovered(want Want, at time.Time) {
	if kind, was := k.bad[want]; was {
		delete(k.bad, want)
		k.event(Returned, fmt.Sprintf("%s again after %s", want, kind))
	}
	allWell := len(k.bad) == 0
	k.setStatus(func(s *Status) {
		s.LastReadingAt = at
		if allWell {
			s.Trouble = ""
		}
	})
}

// cannotRead passes on why a want was not read.
func (k *Keeper) cannotRead(want Want, kind Kind, err error) {
	want = Want{Channel: want.Channel, Measure: want.Measure}
	k.bad[want] = kind
	k.tell(kind, err)
}

// tell passes on what went wrong while the port stays open.
func (k *Keeper) tell(kind Kind, err error) {
	text := withHint(err)
	k.setStatus(func(s *Status) { s.Trouble = text })
	k.event(kind, text)
}

// noteStale tells of lines that came when nobody was waiting for them.
func (k *Keeper) noteStale(lines []string) {
	if len(lines) > 0 {
		k.event(Garbage, fmt.Sprintf("thrown away, because nobody waited for it any more: %q", lines))
	}
}

// down passes on that the port is gone or cannot be opened.
func (k *Keeper) down(err error) {
	if err == nil {
		return
	}
	clear(k.bad)
	text := withHint(err)
	k.setStatus(func(s *Status) { s.Up = false; s.Trouble = text })
	if line, ok := errors.AsType[*port.Error](err); ok && line.Kind == port.KindDenied && line.Transient() {
		return // the system is still handing over a node that has just appeared (S-P9)
	}
	k.event(kindOf(err), text)
}

func (k *Keeper) event(kind Kind, text string) {
	k.sink.TakeEvent(Event{Instrument: k.link.Name, Kind: kind, Text: text, At: now()})
}

// withHint is an error's sentence with what a person can do about it.
func withHint(err error) string {
	if own, ok := errors.AsType[*Error](err); ok && own.Hint != "" {
		return err.Error() + " (" + own.Hint + ")"
	}
	return err.Error()
}

// String names what is wanted for a person.
func (w Want) String() string {
	what := cmp.Or(string(w.Measure), "capture")
	if w.Channel != "" {
		what += " on channel " + w.Channel
	}
	return what
}

// now is the time by the clock of all readings, at the resolution that the book
// keeps.
func now() time.Time { return scpi.Steady.Now().Truncate(time.Microsecond) }
