//go:build unix

package main

import (
	"math"

	"golang.org/x/sys/unix"
)

// freeBytes is how much room a plain user has on the disk of a folder.
func freeBytes(folder string) (int64, error) {
	var stat unix.Statfs_t
	if err := unix.Statfs(folder, &stat); err != nil {
		return 0, err
	}
	blocks, size := uint64(stat.Bavail), uint64(max(stat.Bsize, 1))
	if blocks > math.MaxInt64/size {
		return math.MaxInt64, nil
	}
	return int64(blocks * size), nil // #nosec G115 -- not more, see above
}
