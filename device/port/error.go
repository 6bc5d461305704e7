package port

import (
	"context"
	"errors"
	"io"
	"net"
	"os"
	"strings"
	"syscall"

	"go.bug.st/serial"
)

// Kind says what sort of trouble a port is in.
type Kind string

const (
	// KindLost is a port that was open and is gone: unplugged, hung up, dropped.
	KindLost Kind = "lost"
	// KindBusy is a port that somebody else holds.
	KindBusy Kind = "busy"
	// KindDenied is a port that this user may not open.
	KindDenied Kind = "denied"
	// KindAbsent is a port that is not there, or not yet.
	KindAbsent Kind = "absent"
	// KindUnsuitable is an address, a mode or a device that cannot work until a
	// person changes something.
	KindUnsuitable Kind = "unsuitable"
	// KindClosed is the use of a port after its own Close.
	KindClosed Kind = "closed"
	// KindTimeout is a deadline of the caller's context that passed; the cause is
	// context.DeadlineExceeded.
	KindTimeout Kind = "timeout"
	// KindCanceled is a caller's context that was cancelled.
	KindCanceled Kind = "canceled"
	// KindFailed is any other refusal of the system, such as too many open files.
	KindFailed Kind = "failed"
)

// Error is the one error of this package.
type Error struct {
	// Op is what was being done: "open", "read", "write", "discard", "close", "list".
	Op string
	// Port is the address as it was given, with the device's name where that differs.
	Port string
	Kind Kind
	// Hint is one sentence that says what to do; empty where nothing can be done.
	Hint string
	Err  error

	settling bool
}

// Error names the port, what was being done, the kind and the cause.
func (e *Error) Error() string {
	text := e.Op + " " + e.Port + ": " + string(e.Kind)
	if e.Err != nil {
		text += ": " + e.Err.Error()
	}
	return text
}

// Unwrap gives the cause.
func (e *Error) Unwrap() error { return e.Err }

// Transient reports whether trying again can help without anybody's doing: the
// port may come back (lost, absent), its holder may let go (busy), an answer may
// come yet (timeout). A denial is transient only while the node is so young that
// udev may still be handing it over; after that a person has to act.
func (e *Error) Transient() bool {
	switch e.Kind {
	case KindLost, KindAbsent, KindBusy, KindTimeout, KindFailed:
		return true
	case KindDenied:
		return e.settling
	}
	return false
}

// kindOfOpen folds what the system and the library say while a port is opened.
// The library hides the cause of its code "invalid serial port" in the text, so
// that is where a device that vanished meanwhile has to be looked for.
func kindOfOpen(err error) Kind {
	if kind, ok := errors.AsType[marked](err); ok {
		return kind.kind
	}
	if kind, ok := kindOfContext(err); ok {
		return kind
	}
	if coded, ok := errors.AsType[*serial.PortError](err); ok {
		return kindOfCode(coded)
	}
	for _, row := range openCauses {
		if errors.Is(err, row.cause) {
			return row.kind
		}
	}
	return KindFailed
}

var openCauses = []struct {
	cause error
	kind  Kind
}{
	{os.ErrNotExist, KindAbsent},
	{syscall.ENODEV, KindAbsent},
	{syscall.ENXIO, KindAbsent},
	{syscall.EIO, KindAbsent},
	{os.ErrPermission, KindDenied},
	{syscall.EBUSY, KindBusy},
	{syscall.ENOTTY, KindUnsuitable},
	{syscall.EISDIR, KindUnsuitable},
	{syscall.ENOTDIR, KindUnsuitable},
	{syscall.EINVAL, KindUnsuitable},
	{syscall.ELOOP, KindUnsuitable},
}

// marked is an error whose kind this package knows better than its cause tells.
type marked struct {
	error
	kind Kind
}

func (m marked) Unwrap() error { return m.error }

func unsuitable(err error) error { return marked{err, KindUnsuitable} }

var errHeld = marked{errors.New("another program holds the port"), KindBusy}

func kindOfCode(err *serial.PortError) Kind {
	switch err.Code() {
	case serial.PortBusy:
		return KindBusy
	case serial.PermissionDenied:
		return KindDenied
	case serial.PortNotFound, serial.PortClosed:
		return KindAbsent
	case serial.InvalidSerialPort:
		return kindOfInvalid(err.Error())
	}
	return KindUnsuitable
}

// kindOfInvalid looks for a device that vanished during the open.
func kindOfInvalid(text string) Kind {
	for _, gone := range []error{syscall.EIO, syscall.ENODEV, syscall.ENXIO} {
		if strings.Contains(text, gone.Error()) {
			return KindAbsent
		}
	}
	return KindUnsuitable
}

func kindOfContext(err error) (Kind, bool) {
	switch {
	case errors.Is(err, context.DeadlineExceeded):
		return KindTimeout, true
	case errors.Is(err, context.Canceled):
		return KindCanceled, true
	}
	return "", false
}

// kindOfUse folds what a Read or Write of an open port ended with. All that the
// kernel, the library or the network can say about a line that worked before
// comes down to its being gone; closed tells an own Close from that, because the
// library's words for the two are the same.
func kindOfUse(err error, closed bool) Kind {
	if kind, ok := kindOfContext(err); ok {
		return kind
	}
	if closed || errors.Is(err, os.ErrClosed) || errors.Is(err, net.ErrClosed) {
		return KindClosed
	}
	if known, ok := errors.AsType[marked](err); ok {
		return known.kind
	}
	return KindLost
}

// plainCause gives io.EOF, which says nothing to a person, better words.
func plainCause(err error) error {
	if errors.Is(err, io.EOF) {
		return errHungUp
	}
	return err
}

var errHungUp = errors.New("the far end hung up")
