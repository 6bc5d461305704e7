//go:build unix

package book

import (
	"errors"
	"os"
)

// syncFolder forces the names in a folder to the disk.
func syncFolder(path string) error {
	folder, err := os.Open(path) // #nosec G304 -- of a file that the user names
	if err != nil {
		return err
	}
	return errors.Join(folder.Sync(), folder.Close())
}
