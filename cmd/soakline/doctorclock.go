package main

import "time"

// written is a moment before which no clock of today can be: the program did not
// exist. A machine without a clock of its own starts in 1970, or when its files were
// last written.
var written = time.Date(2026, time.January, 1, 0, 0, 0, 0, time.UTC)

// lookAtClock holds the machine's clock against the calendar and the book.
func (d *doctor) lookAtClock(newest time.Time) { d.judgeClock(time.Now(), newest) }

func (d *doctor) judgeClock(now, newest time.Time) {
	const about = "clock"
	text := now.Format(dayAndTime + " MST")
	follows, known := clockFollows()
	switch {
	case now.Before(written):
		d.add(about, wrong, "set it, or wait until it is set from the net (timedatectl), before a soak begins", "it says %s: it was not set since the machine started", text)
	case newest.After(now.Add(time.Minute)):
		d.add(about, wrong, "set it (timedatectl); readings from before it was set stay in the book at the time that they were given",
			"it says %s, and the book has readings of %s", text, newest.Local().Format(dayAndTime))
	case known && !follows:
		d.add(about, mind, "have it set from the net (timedatectl set-ntp true), or look at it now and then: readings are kept under its time",
			"it says %s, and follows no reference", text)
	case known:
		d.add(about, inOrder, "", "it says %s, and follows a reference", text)
	default:
		d.add(about, inOrder, "", "it says %s; whether it follows a reference cannot be told on this system", text)
	}
}
