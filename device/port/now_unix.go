//go:build linux || darwin

package port

import (
	"errors"
	"io"
	"syscall"
	"time"
)

// pollable is a descriptor of ours that the system's poller watches.
type pollable interface {
	syscall.Conn
	SetReadDeadline(time.Time) error
}

// readNow reads what has arrived without waiting; 0 and no error is nothing.
func readNow(c pollable, b []byte) (n int, err error) {
	raw, err := c.SyscallConn()
	if err != nil {
		return 0, err
	}
	// A deadline that has passed would end this before it has looked.
	if err := c.SetReadDeadline(time.Time{}); err != nil {
		return 0, err
	}
	var inner error
	err = raw.Read(func(fd uintptr) bool {
		for {
			if n, inner = syscall.Read(int(fd), b); !errors.Is(inner, syscall.EINTR) {
				return true
			}
		}
	})
	switch {
	case err != nil:
		return 0, err
	case errors.Is(inner, syscall.EAGAIN):
		return 0, nil
	case inner != nil:
		return 0, inner
	case n == 0:
		return 0, io.EOF
	}
	return n, nil
}
