package scpi

import (
	"time"

	"golang.org/x/sys/unix"
)

// asleep is how long the machine has slept since it was switched on: one of the
// system's clocks counts that time and the other does not (clock_gettime(2)).
func asleep() (time.Duration, bool) {
	var awake, all unix.Timespec
	if unix.ClockGettime(unix.CLOCK_MONOTONIC, &awake) != nil || unix.ClockGettime(unix.CLOCK_BOOTTIME, &all) != nil {
		return 0, false
	}
	return time.Duration(all.Nano() - awake.Nano()), true
}
