//go:build darwin && !cgo

package port

import (
	"context"

	"go.bug.st/serial"
)

// seesUSB is false: the library asks macOS about USB through cgo only, which a
// cross-build does not have.
const seesUSB = false

// enumerate is the whole list.
func enumerate(ctx context.Context) ([]Info, error) { return list(ctx) }

func list(context.Context) ([]Info, error) {
	names, err := serial.GetPortsList()
	if err != nil {
		return nil, err
	}
	var ports []Info
	for _, name := range names {
		ports = append(ports, Info{Path: name, State: StateUnknown})
	}
	return ports, nil
}
