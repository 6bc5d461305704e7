//go:build unix

package notify

import (
	"fmt"

	"golang.org/x/sys/unix"
)

// FreeBytes returns how much room is left for this user where a folder lies.
func FreeBytes(dir string) (uint64, error) {
	var fs unix.Statfs_t
	if err := unix.Statfs(dir, &fs); err != nil {
		return 0, fmt.Errorf("room at %s: %w", dir, err)
	}
	return uint64(fs.Bavail) * uint64(fs.Bsize), nil
}
