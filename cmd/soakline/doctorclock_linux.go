package main

import "golang.org/x/sys/unix"

// clockFollows tells whether the kernel is told that the clock follows a reference
// (adjtimex(2), STA_UNSYNC), and whether that is known at all.
func clockFollows() (follows, known bool) {
	var state unix.Timex
	if _, err := unix.Adjtimex(&state); err != nil {
		return false, false
	}
	return state.Status&unix.STA_UNSYNC == 0, true
}
