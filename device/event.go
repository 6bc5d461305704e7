package device

import "time"

// Event is something that happened to an instrument other than a reading:
// silence, garbage, an overflow answer, an entry of its error queue, a lost or
// returned port.
type Event struct {
	Instrument string
	Kind       Kind
	// Text says in one sentence what happened, with the raw answer where there
	// is one; it is meant for a person.
	Text string
	At   time.Time
}

// Kind sorts what can happen to an instrument or its port.
type Kind string

// The kinds of trouble, and the two kinds of good news that end it.
const (
	Silence    Kind = "silence"    // no answer within the time allowed
	Garbage    Kind = "garbage"    // an answer that is no answer to the question
	Overflow   Kind = "overflow"   // 9.9E37, -9.9E37 or 9.91E37 (SCPI-1999)
	Refused    Kind = "refused"    // the instrument's error queue said no
	Lost       Kind = "lost"       // the port went away
	Busy       Kind = "busy"       // somebody else has the port
	Denied     Kind = "denied"     // no permission to open the port
	Absent     Kind = "absent"     // no such port
	Stranger   Kind = "stranger"   // another instrument answered *IDN? than the one expected
	Unsuitable Kind = "unsuitable" // the address, the line mode or the command set cannot work
	ClockSet   Kind = "clock-set"  // the machine's clock was set, or the machine slept
	Drifting   Kind = "drift"      // readings wander while they are still within their limit
	Opened     Kind = "opened"     // the port is open and the instrument has answered
	Returned   Kind = "returned"   // readings have come back after silence or garbage
)
