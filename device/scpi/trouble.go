package scpi

import (
	"context"
	"errors"
	"fmt"
	"os"
	"strings"
)

var (
	// ErrSilence says that nothing came within the time allowed.
	ErrSilence = errors.New("no answer")
	// ErrGarbage says that something came which is no answer; the error is then
	// a *GarbageError.
	ErrGarbage = errors.New("garbage")
	// ErrOutOfStep says that an earlier question was not answered properly, so
	// that its answer might still come. Resync ends this state.
	ErrOutOfStep = errors.New("conversation out of step; it must be resynchronised first")
	// ErrEndlessQueue says that an error queue never came to "no error".
	ErrEndlessQueue = errors.New("error queue does not end")
)

// GarbageError is what came instead of an answer. It is an ErrGarbage.
type GarbageError struct {
	// Raw is what came, shortened, with unprintable bytes as \xNN.
	Raw string
	// Why says what is wrong with it.
	Why string
}

// Error says what came and why it is no answer.
func (e *GarbageError) Error() string { return fmt.Sprintf("garbage: %s: \"%s\"", e.Why, e.Raw) }

// Is makes every GarbageError an ErrGarbage.
func (e *GarbageError) Is(target error) bool { return target == ErrGarbage }

// garbage makes a GarbageError of bytes as they came.
func garbage(raw []byte, why string) error {
	return &GarbageError{Raw: Escape(raw), Why: why}
}

// longestShown is how many bytes of garbage are worth showing.
const longestShown = 120

// Escape shows bytes as a person can read them: printable ASCII as it is, a
// backslash doubled, everything else as \xNN; long texts are cut.
func Escape(raw []byte) string {
	var b strings.Builder
	for i, c := range raw {
		switch {
		case i == longestShown:
			fmt.Fprintf(&b, "... (%d bytes)", len(raw))
			return b.String()
		case c == '\\':
			b.WriteString(`\\`)
		case c < ' ' || c > '~':
			fmt.Fprintf(&b, `\x%02x`, c)
		default:
			b.WriteByte(c)
		}
	}
	return b.String()
}

// timedOut tells whether an error of a line is its way of saying "too late".
func timedOut(err error) bool {
	return errors.Is(err, context.DeadlineExceeded) || errors.Is(err, os.ErrDeadlineExceeded)
}

// silenceIfLate turns a line's "too late" into ErrSilence.
func silenceIfLate(err error) error {
	if timedOut(err) {
		return ErrSilence
	}
	return err
}
