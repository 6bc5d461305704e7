package simbench

import (
	"errors"
	"fmt"
)

// scpiError is an entry of an error queue.
type scpiError struct {
	code   int
	detail string
}

// Error is the answer to SYSTem:ERRor?: code and text, the detail after a
// semicolon, 255 characters at most (SCPI-1999 volume 2, 21.8.1).
func (e *scpiError) Error() string {
	text := errorTexts[e.code]
	if text == "" {
		text = e.detail
	} else if e.detail != "" {
		text += ";" + e.detail
	}
	if len(text) > 255 {
		text = text[:255]
	}
	return fmt.Sprintf(`%d,"%s"`, e.code, text)
}

// failure is an error of the queue with what it was about.
func failure(code int, detail string) error { return &scpiError{code: code, detail: quoted(detail)} }

// quoted keeps a detail within the quotes of an answer and within one line.
func quoted(s string) string {
	clean := make([]byte, 0, len(s))
	for i := range len(s) {
		if b := s[i]; b >= 32 && b < 127 && b != '"' {
			clean = append(clean, b)
		}
	}
	return string(clean)
}

// errorTexts are the messages of SCPI-1999 volume 2, 21.8, that this bench can
// give.
var errorTexts = map[int]string{
	-101: "Invalid character", -102: "Syntax error", -103: "Invalid separator",
	-104: "Data type error", -108: "Parameter not allowed", -109: "Missing parameter",
	-112: "Program mnemonic too long", -113: "Undefined header", -114: "Header suffix out of range",
	-121: "Invalid character in number", -123: "Exponent too large", -124: "Too many digits",
	-131: "Invalid suffix", -171: "Invalid expression",
	-200: "Execution error", -211: "Trigger ignored", -221: "Settings conflict",
	-222: "Data out of range", -224: "Illegal parameter value", -230: "Data corrupt or stale",
	-241: "Hardware missing", -350: "Queue overflow", -362: "Framing error in program message",
	-363: "Input buffer overrun", -410: "Query INTERRUPTED",
}

// queueLength is how many entries the error queue holds.
const queueLength = 20

// status is an instrument's error queue and registers (IEEE 488.2, 11).
type status struct {
	queue              []*scpiError
	event, eventEnable int
	serviceEnable      int
	available          bool
}

// Bits of the standard event status register (IEEE 488.2, 11.5.1).
const (
	bitOperationComplete = 1 << 0
	bitQuery             = 1 << 2
	bitDevice            = 1 << 3
	bitExecution         = 1 << 4
	bitCommand           = 1 << 5
	bitPowerOn           = 1 << 7
)

// push queues an error; when the queue is full its newest entry becomes -350.
func (s *status) push(err error) {
	e, ok := errors.AsType[*scpiError](err)
	if !ok {
		e = &scpiError{code: -200, detail: quoted(err.Error())}
	}
	switch {
	case e.code <= -100 && e.code > -200:
		s.event |= bitCommand
	case e.code <= -200 && e.code > -300:
		s.event |= bitExecution
	case e.code <= -400 && e.code > -500:
		s.event |= bitQuery
	default:
		s.event |= bitDevice
	}
	if len(s.queue) == queueLength {
		s.queue[queueLength-1] = &scpiError{code: -350}
		s.event |= bitDevice
		return
	}
	s.queue = append(s.queue, e)
}

// next takes the oldest entry.
func (s *status) next() string {
	if len(s.queue) == 0 {
		return `0,"No error"`
	}
	e := s.queue[0]
	s.queue = s.queue[1:]
	return e.Error()
}

// byte is the status byte: error queue, message available, event summary and
// master summary.
func (s *status) byte() int {
	var b int
	if len(s.queue) > 0 {
		b |= 1 << 2
	}
	if s.available {
		b |= 1 << 4
	}
	if s.event&s.eventEnable != 0 {
		b |= 1 << 5
	}
	if b&s.serviceEnable != 0 {
		b |= 1 << 6
	}
	return b
}
