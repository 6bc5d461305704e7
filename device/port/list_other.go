//go:build windows || (darwin && cgo)

package port

import (
	"context"

	"go.bug.st/serial/enumerator"
)

// seesUSB says whether the list tells what USB adapter is behind a port.
const seesUSB = true

func list(ctx context.Context) ([]Info, error) {
	return fromLibrary(ctx, func() ([]*enumerator.PortDetails, error) {
		return enumerator.GetDetailedPortsList()
	})
}
