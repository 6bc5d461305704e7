package device

import (
	"context"
	"errors"
	"fmt"

	"soakline/device/port"
	"soakline/device/scpi"
)

// Error is one thing that went wrong with an instrument: what was being done, to
// which instrument on which port, and what a person can do about it.
type Error struct {
	Op         string // "open", "ask", "capture", "prepare", "switch output"
	Instrument string
	Port       string
	Ask        string // the message that was sent, if any
	Kind       Kind
	Hint       string // one sentence; empty where the error says it all
	Err        error
}

// Error names the instrument, its port and what was being done.
func (e *Error) Error() string {
	where := e.Instrument
	switch {
	case where == "":
		where = e.Port // it is not known yet who is on it
	case e.Port != "":
		where += " on " + e.Port
	}
	if e.Ask != "" {
		return fmt.Sprintf("%s: %s %q: %v", where, e.Op, e.Ask, e.Err)
	}
	return fmt.Sprintf("%s: %s: %v", where, e.Op, e.Err)
}

// Unwrap returns the cause.
func (e *Error) Unwrap() error { return e.Err }

// kindOf sorts a cause from the line or the language into a Kind.
func kindOf(err error) Kind {
	if own, ok := errors.AsType[*Error](err); ok {
		return own.Kind
	}
	if line, ok := errors.AsType[*port.Error](err); ok {
		return lineKinds[line.Kind]
	}
	switch {
	case errors.Is(err, scpi.ErrSilence), errors.Is(err, context.DeadlineExceeded), errors.Is(err, errNoTrigger):
		return Silence
	case errors.Is(err, errOverflow), errors.Is(err, scpi.ErrOverload), errors.Is(err, scpi.ErrBlank):
		return Overflow
	case errors.Is(err, errUnsuitable):
		return Unsuitable
	default:
		return Garbage
	}
}

// lineKinds says what a port's trouble is to the instrument on it.
var lineKinds = map[port.Kind]Kind{
	port.KindLost: Lost, port.KindClosed: Lost, port.KindFailed: Lost, port.KindCanceled: Lost,
	port.KindBusy: Busy, port.KindDenied: Denied, port.KindAbsent: Absent,
	port.KindUnsuitable: Unsuitable, port.KindTimeout: Silence,
}

// errOverflow marks an answer that stands for "over range" or "not a number";
// errUnsuitable a question that the command set has no words for; errNoTrigger a
// scope that answers but has nothing to show.
var (
	errOverflow   = errors.New("the instrument answers that it has no figure")
	errUnsuitable = errors.New("not in the command set")
	errNoTrigger  = errors.New("no record was stored")
)
