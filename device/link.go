package device

import "time"

// Link is one instrument on the bench: what it is called, where it is and how it
// is asked. It is plain data.
type Link struct {
	Name string
	// Port is an address as port.Open takes it, or "idn:TEXT" for whichever port
	// is answered on by an instrument whose *IDN? answer contains TEXT.
	Port     string
	Commands CommandSet
}

// Want is one figure, or one scope record, that is to be read again and again.
type Want struct {
	// Channel is the instrument's own name for the input; empty where it has one.
	Channel string
	// Measure is what to ask for. Empty means a capture.
	Measure Measure
	// Every is the time from one question to the next; 0 asks again at once.
	Every time.Duration
	// Signal and Beside are those of a capture's Shot. What was taken beside is passed
	// on as a record of its own channel as well.
	Signal Signal
	Beside string
}

// Sink takes what comes from instruments. Its methods are called from the
// goroutine that owns the port: they must return at once.
type Sink interface {
	TakeReading(instrument, channel string, r Reading)
	TakeCapture(instrument, channel string, c Capture)
	TakeEvent(e Event)
}
