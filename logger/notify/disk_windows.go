package notify

import (
	"fmt"

	"golang.org/x/sys/windows"
)

// FreeBytes returns how much room is left for this user where a folder lies.
func FreeBytes(dir string) (uint64, error) {
	name, err := windows.UTF16PtrFromString(dir)
	if err != nil {
		return 0, fmt.Errorf("room at %s: %w", dir, err)
	}
	var free uint64
	if err := windows.GetDiskFreeSpaceEx(name, &free, nil, nil); err != nil {
		return 0, fmt.Errorf("room at %s: %w", dir, err)
	}
	return free, nil
}
