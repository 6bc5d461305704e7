package scpi

import (
	"sync"
	"time"
)

// Clock tells the time of day and goes on evenly when somebody, or a time server,
// sets the machine's clock: hours of readings are not lost because an hour came
// twice. It is the wall clock at one moment and the monotonic clock since. How far
// the machine's clock has strayed from it, and how long the machine has slept, can
// be asked; what to do about it is for those who know if a soak is running. It may
// be used from several goroutines.
type Clock struct {
	// wall and asleep are the machine's; tests put others here. asleep is how long
	// the machine has slept since it was switched on, if that can be known.
	wall   func() time.Time
	asleep func() (time.Duration, bool)

	origin time.Time // with the monotonic clock

	mu     sync.Mutex
	offset time.Duration // set by Shift
	slept  time.Duration
}

// Steady is the clock of this process: the times of all answers are its times.
var Steady = NewClock()

// NewClock returns a clock that shows the machine's time as it is now.
func NewClock() *Clock { return newClock(time.Now, asleep) }

// NewClockOf returns a clock of a machine whose time of day wall tells.
func NewClockOf(wall func() time.Time) *Clock {
	c := newClock(wall, asleep)
	c.offset = wall().Sub(c.now().Round(0))
	return c
}

func newClock(wall func() time.Time, asleep func() (time.Duration, bool)) *Clock {
	c := &Clock{wall: wall, asleep: asleep, origin: time.Now()}
	c.slept, _ = asleep()
	return c
}

// Now returns the time. It carries the monotonic clock, so that two times between
// which nobody called Shift are as far apart as they seem.
func (c *Clock) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.now()
}

// now: Since counts with the monotonic clock.
func (c *Clock) now() time.Time { return c.origin.Add(time.Since(c.origin) + c.offset) }

// Stray is how a machine's clock and a Clock differ.
type Stray struct {
	// Ahead is how far the machine's clock is ahead; negative where it is behind.
	Ahead time.Duration
	// Slept is how much of that the machine has slept. It is only known on some
	// systems: elsewhere SleepKnown is false.
	Slept      time.Duration
	SleepKnown bool
}

// Strayed returns how far the machine's clock and c differ.
func (c *Clock) Strayed() Stray {
	c.mu.Lock()
	defer c.mu.Unlock()
	// Round(0) takes the monotonic clock off, so that the times of day are compared.
	stray := Stray{Ahead: c.wall().Round(0).Sub(c.now().Round(0))}
	if total, known := c.asleep(); known {
		stray.Slept, stray.SleepKnown = total-c.slept, true
	}
	return stray
}

// Shift sets c ahead by d, or back; what the machine has slept so far is settled
// with it.
func (c *Clock) Shift(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.offset += d
	c.slept, _ = c.asleep()
}
