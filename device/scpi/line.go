package scpi

import (
	"context"
	"fmt"
)

// Line is a byte stream to an instrument. A Conversation uses it from one
// goroutine; it neither opens nor closes it.
type Line interface {
	// Write sends all of p or fails.
	Write(ctx context.Context, p []byte) error
	// Read waits for at least one byte and returns what there is, never both
	// bytes and an error. It obeys ctx's deadline. With a ctx that is over
	// already it still returns what has arrived, and ctx's error only if that is
	// nothing: so it can be learned what is waiting.
	Read(ctx context.Context, p []byte) (int, error)
	// Discard throws away what has arrived and has not been read.
	Discard() error
}

// Framing is how messages end on a line. IEEE 488.2 ends them with a line feed
// and END; a serial line has no END (S-70).
type Framing struct {
	// SendEnding ends what is sent: "lf", "cr" or "crlf"; empty is "lf". Answers
	// may end in LF or CR LF; with "cr" also in a bare CR.
	SendEnding string
}

// endings are the bytes behind each name of an ending.
var endings = map[string]string{"": "\n", "lf": "\n", "cr": "\r", "crlf": "\r\n"}

// Validate fails when SendEnding is no ending.
func (f Framing) Validate() error {
	if _, ok := endings[f.SendEnding]; !ok {
		return fmt.Errorf("ending %q: must be lf, cr or crlf", f.SendEnding)
	}
	return nil
}
