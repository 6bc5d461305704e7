package logger

import (
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
	case sleep > strayTolerance:
		b.clock.Shift(sleep)
		b.tellClock(fmt.Sprintf("the machine slept for %s, or its clock was set ahead: nothing was read meanwhile", sleep.Round(time.Millisecond)))
	case away && len(b.soaks) == 0:
		b.clock.Shift(stray.Ahead)
		b.strayed = 0
		b.tellClock(fmt.Sprintf("the machine's clock was set %s; from here on times are by the new one", inDirection(stray.Ahead)))
	case away && (stray.Ahead-b.strayed).Abs() > strayTolerance:
		b.strayed = stray.Ahead
		b.tellClock(fmt.Sprintf("the machine's clock was set %s during a soak: times stay by the old one until no soak runs", inDirection(stray.Ahead)))
	}
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
