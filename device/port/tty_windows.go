package port

import (
	"errors"
	"fmt"

	"go.bug.st/serial"
)

// openTTY opens a port through the library; the system lets nobody else open it.
func openTTY(name string, s Settings) (line, error) {
	if s.Flow == "rts-cts" {
		return nil, unsuitable(errors.New("flow: rts-cts cannot be switched on from here on this system; set it in the driver's properties"))
	}
	lib, err := serial.Open(name, s.mode())
	if err != nil {
		return nil, err
	}
	for _, set := range []func() error{
		func() error { return lib.SetDTR(true) },
		func() error { return lib.SetRTS(true) },
		lib.ResetInputBuffer,
		lib.ResetOutputBuffer,
	} {
		if err := set(); err != nil {
			return nil, errors.Join(fmt.Errorf("set up the line: %w", err), lib.Close())
		}
	}
	return newSlicedLine(lib, func() error { return nil })
}
