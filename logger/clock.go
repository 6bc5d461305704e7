package logger

import (
	"errors"
	"fmt"
	"time"

	"soakline/device"
	"soakline/device/scpi"
)

// Clock is the clock that readings are stamped with: it goes on evenly when the
// machine's clock is set. A *scpi.Clock is one.
type Clock interface {
	Now() time.Time
	Strayed() scpi.Stray
	Shift(d time.Duration)
}

var _ Clock = (*scpi.Clock)(nil)

// now is the time by the readings' clock, at the resolution that the book keeps.
func (b *Bench) now() time.Time { return b.clock.Now().Truncate(time.Microsecond) }

// strayTolerance is how far the machine's clock may be away before anything is
// said or done about it.
const strayTolerance = time.Second

// watchClock looks if the machine's clock was set or the machine has slept. Sleep
// is time that has passed without readings. A clock that was set is followed only
// while no soak runs: readings of one soak are on one clock. Where nobody knows
// whether the machine slept or its clock was set ahead, it is taken for sleep,
// because a gap that is not told could turn into a pass.
func (b *Bench) watchClock() {
	stray := b.clock.Strayed()
	sleep := stray.Slept
	if !stray.SleepKnown {
		sleep = stray.Ahead
	}
	away := stray.Ahead.Abs() > strayTolerance
	switch {
	case b.assumed > 0 && stray.Ahead > strayTolerance:
		b.clock.Shift(stray.Ahead)
		b.strayed, b.assumed = 0, 0
		b.tellClock(fmt.Sprintf("the machine's clock was set %s: for so much longer than was assumed the program had been away", inDirection(stray.Ahead)))
	case sleep > strayTolerance:
		b.clock.Shift(sleep)
		b.tellClock(fmt.Sprintf("the machine slept for %s, or its clock was set ahead: nothing was read meanwhile", sleep.Round(time.Millisecond)))
	case away && len(b.soaks) == 0:
		b.clock.Shift(stray.Ahead)
		b.strayed, b.assumed = 0, 0
		b.tellClock(fmt.Sprintf("the machine's clock was set %s; from here on times are by the new one", inDirection(stray.Ahead)))
	case away && (stray.Ahead-b.strayed).Abs() > strayTolerance:
		b.strayed = stray.Ahead
		b.tellClock(fmt.Sprintf("the machine's clock was set %s during a soak: times stay by the old one until no soak runs", inDirection(stray.Ahead)))
	}
}

// notBefore sets the readings' clock past what was read before the program was away.
// Where the machine's clock is behind that, as that of a machine without a battery is
// until it is set from the net, nobody knows how long that was: it is taken for longer
// than a pass allows, because a gap that is not told could turn into one. If the clock
// is set right later, what is missing is added.
func (b *Bench) notBefore(last lastRead) {
	behind := last.at.Sub(b.clock.Now())
	if behind <= 0 {
		return
	}
	b.assumed = last.tellingGap
	b.clock.Shift(behind + b.assumed)
	b.strayed = b.clock.Strayed().Ahead
	b.tellClock(fmt.Sprintf("the machine's clock is %s behind what was read before, so that nobody can say how long the program was away: "+
		"%s are assumed, more than the sheet lets pass; have the clock set before the bench starts", behind.Round(time.Millisecond), b.assumed))
}

// neverSet is a time before which a clock was never set: it counts from when the
// machine was switched on, mostly from the beginning of 1970.
var neverSet = time.Date(1990, time.January, 1, 0, 0, 0, 0, time.UTC)

// ErrNoClock says that the machine does not know what time it is.
var ErrNoClock = errors.New("the machine's clock was never set")

// mustKnowTime refuses to begin what would be kept under a time that is not one.
func (b *Bench) mustKnowTime() error {
	if now := b.clock.Now(); now.Before(neverSet) {
		return fmt.Errorf("%w: it shows %s; set it, or wait until it is set from the net", ErrNoClock, now.UTC().Format(time.DateTime))
	}
	return nil
}

// inDirection says how a clock was set.
func inDirection(ahead time.Duration) string {
	way := "ahead"
	if ahead < 0 {
		way = "back"
	}
	return fmt.Sprintf("%s by %s", way, ahead.Abs().Round(time.Millisecond))
}

func (b *Bench) tellClock(text string) {
	b.record(device.Event{Instrument: programName, Kind: device.ClockSet, At: b.now(), Text: text})
}

// programName stands where an event is of no instrument.
const programName = "soakline"
