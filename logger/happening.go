package logger

import (
	"slices"
	"sync"
	"time"

	"soakline/checks"
	"soakline/checks/reservoir"
	"soakline/device"
	"soakline/logger/book"
)

// HappeningKind sorts what those who watch the bench are told.
type HappeningKind string

// The kinds of happening.
const (
	SoakBegun      HappeningKind = "soak-begun"
	SoakOver       HappeningKind = "soak-ended"
	VerdictGiven   HappeningKind = "verdict"
	ExcursionBegan HappeningKind = "excursion-begun"
	ExcursionOver  HappeningKind = "excursion-ended"
	StateChange    HappeningKind = "state"
	CheckUndecided HappeningKind = "check-refused"
	RoundBegun     HappeningKind = "round-begun"
	PointRead      HappeningKind = "point-read"
	RoundOver      HappeningKind = "round-ended"
	PortChange     HappeningKind = "port"
	DischargeStand HappeningKind = "discharge"
	FinalStep      HappeningKind = "final"
)

// Happening is something that those who watch the bench are told at once. What of
// it must last is in the book as well. Which fields are set follows from Kind.
type Happening struct {
	At   time.Time
	Kind HappeningKind
	Unit checks.UnitID
	Soak book.SoakID
	// Round is a round's label.
	Round      string
	Check      checks.CheckKey
	Instrument string
	// Event is the kind of a PortChange.
	Event device.Kind
	// From and To are the states of a StateChange.
	From, To checks.State
	// Text says it in words where the fields do not.
	Text      string
	Excursion *checks.Excursion
	Discharge *reservoir.Outlook
	Finished  *FinishedSoak
}

// followed is how many happenings may wait for one who follows.
const followed = 256

// feed passes happenings on to those who follow the bench.
type feed struct {
	mu        sync.Mutex
	followers []chan Happening
}

// Follow returns what happens from now on, until stop is called. Whoever does not
// keep up loses happenings, which is counted, and never keeps the bench waiting.
func (b *Bench) Follow() (happenings <-chan Happening, stop func()) {
	mine := make(chan Happening, followed)
	b.feed.mu.Lock()
	defer b.feed.mu.Unlock()
	b.feed.followers = append(b.feed.followers, mine)
	return mine, func() {
		b.feed.mu.Lock()
		defer b.feed.mu.Unlock()
		b.feed.followers = slices.DeleteFunc(b.feed.followers, func(other chan Happening) bool { return other == mine })
	}
}

// Tell tells those who follow. It never waits; any goroutine may call it.
func (b *Bench) Tell(h Happening) {
	if h.At.IsZero() {
		h.At = b.now()
	}
	b.feed.mu.Lock()
	defer b.feed.mu.Unlock()
	for _, follower := range b.feed.followers {
		select {
		case follower <- h:
		default:
			b.Counters.untold()
		}
	}
}

// tellChange tells of a change of a check.
func (b *Bench) tellChange(soak *liveSoak, change checks.Change) {
	h := Happening{At: change.At, Unit: soak.unit, Soak: soak.id, Check: change.Check, From: change.From, To: change.To, Text: change.Text}
	switch change.Kind {
	case checks.ExcursionBegun:
		h.Kind, h.Excursion = ExcursionBegan, &change.Excursion
	case checks.ExcursionEnded:
		h.Kind, h.Excursion = ExcursionOver, &change.Excursion
	case checks.CheckRefused:
		h.Kind = CheckUndecided
	default:
		h.Kind = StateChange
	}
	b.Tell(h)
}
