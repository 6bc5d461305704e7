//go:build !darwin || cgo

package port

import (
	"context"
	"strings"
	"time"

	"go.bug.st/serial/enumerator"
)

// The library's whole list fails while any adapter is being unplugged.
const (
	listTries = 5
	listPause = 50 * time.Millisecond
)

// fromLibrary lists through the library's enumerator, and tries again while it
// fails.
func fromLibrary(ctx context.Context, enumerate func() ([]*enumerator.PortDetails, error)) ([]Info, error) {
	for try := 1; ; try++ {
		details, err := enumerate()
		if err == nil {
			return fromDetails(details), nil
		}
		if try == listTries {
			return nil, err
		}
		pause := time.NewTimer(listPause)
		select {
		case <-pause.C:
		case <-ctx.Done():
			pause.Stop()
			return nil, ctx.Err()
		}
	}
}

// fromDetails leaves out the nameless entries of ports that are on their way out.
func fromDetails(details []*enumerator.PortDetails) []Info {
	var ports []Info
	for _, d := range details {
		if d == nil || d.Name == "" {
			continue
		}
		ports = append(ports, Info{
			Path:         d.Name,
			USB:          d.IsUSB,
			VendorID:     strings.ToLower(d.VID),
			ProductID:    strings.ToLower(d.PID),
			Serial:       d.SerialNumber,
			Manufacturer: d.Manufacturer,
			Product:      d.Product,
			State:        StateUnknown,
		})
	}
	return ports
}
