package device

import (
	"context"

	"soakline/device/port"
)

// SetCandidates makes these paths the machine's ports.
func (k *Keeper) SetCandidates(paths func() []string) {
	k.candidates = func(context.Context) ([]port.Info, error) {
		var all []port.Info
		for _, path := range paths() {
			all = append(all, port.Info{Path: path})
		}
		return all, nil
	}
}

// SetOpen puts other ports in the place of the machine's.
func (k *Keeper) SetOpen(open func(ctx context.Context, address string, line LineSettings) (Port, error)) {
	k.open = open
}
