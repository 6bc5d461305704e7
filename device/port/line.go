package port

import (
	"io"
	"time"
)

// line is what carries the bytes of a Port. Read gives at least one byte or an
// error; both deadlines can be moved while a Read or Write waits and then end it
// with os.ErrDeadlineExceeded; Close ends both with os.ErrClosed.
type line interface {
	io.ReadWriteCloser
	SetReadDeadline(time.Time) error
	SetWriteDeadline(time.Time) error
	// waiting reads what has arrived without waiting for more; 0 and no error is
	// nothing.
	waiting(b []byte) (int, error)
	// discard throws away what has arrived and was not read.
	discard() error
	// dropUnsent throws away what was written and has not left.
	dropUnsent() error
}
