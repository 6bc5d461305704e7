//go:build !linux

package port

import "context"

// settling is a matter of udev, which is not here.
func settling(string) bool { return false }

func deniedHint(_ context.Context, device string) string {
	return "Ask whoever runs this machine for read and write access to " + device + "."
}

func busyHint(device string) string {
	return "Close the program that holds " + device + "; lsof or the system's resource monitor names it."
}
