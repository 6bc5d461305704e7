package port

import (
	"errors"
	"io"
	"os"
	"time"
)

// pollable is a connection.
type pollable interface {
	io.Reader
	SetReadDeadline(time.Time) error
}

// readNow reads what has arrived and hardly waits; 0 and no error is nothing.
func readNow(c pollable, b []byte) (int, error) {
	if err := c.SetReadDeadline(time.Now().Add(discardQuiet)); err != nil {
		return 0, err
	}
	n, err := c.Read(b)
	if errors.Is(err, os.ErrDeadlineExceeded) {
		err = nil
	}
	return n, err
}
