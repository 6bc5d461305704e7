//go:build windows || (darwin && cgo)

package port

import (
	"context"

	"go.bug.st/serial/enumerator"
)

// seesUSB says whether the list tells what USB adapter is behind a port.
const seesUSB = true

// enumerate is the whole list: the system tells who holds a port only by refusing it.
func enumerate(ctx context.Context) ([]Info, error) { return list(ctx) }

func list(ctx context.Context) ([]Info, error) {
	return fromLibrary(ctx, func() ([]*enumerator.PortDetails, error) {
		return enumerator.GetDetailedPortsList()
	})
}
