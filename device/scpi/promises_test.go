package scpi_test

import (
	"io"
	"testing"

	"soakline/device/scpi"
	"soakline/device/scpi/scpitest"
)

// farEnd is the instrument's side of a memory line.
type farEnd struct{ *memory }

func (f farEnd) Write(p []byte) (int, error) {
	f.arrived = append(f.arrived, p...)
	return len(p), nil
}

func (f farEnd) Read(p []byte) (int, error) { return copy(p, f.sent), nil }

// The line that the tests of this package talk over keeps what a line promises.
func TestMemoryLinePromises(t *testing.T) {
	scpitest.Promises(t, func(*testing.T) (scpi.Line, io.ReadWriter) {
		line := always("")
		return line, farEnd{line}
	})
}
