package book

import (
	"fmt"
	"os"
	"strconv"
	"strings"

	"github.com/gofrs/flock"
)

// lockFor takes the lock that makes this process the book's only writer. The lock
// file stays when the lock is released: removing it would let two processes hold
// locks on two files of one name. Its text is the writer's process id, for the
// message only; the lock is the operating system's and ends with the process.
func lockFor(path string) (*flock.Flock, error) {
	lock := flock.New(path+".lock", flock.SetPermissions(0o600))
	held, err := lock.TryLock()
	if err != nil {
		return nil, failure(path, "open", fmt.Errorf("lock file: %w", err))
	}
	if !held {
		return nil, &Error{
			Path: path, Doing: "open", Kind: ErrHeld, Detail: holder(lock.Path()),
			Hint: "ask that process, or open the book for reading only",
		}
	}
	// Only the message of another process depends on this write.
	_ = os.WriteFile(lock.Path(), []byte(strconv.Itoa(os.Getpid())+"\n"), 0o600)
	return lock, nil
}

// holder names the process that wrote the lock file, as far as it can be read.
func holder(lockPath string) string {
	text, err := os.ReadFile(lockPath)
	pid := strings.TrimSpace(string(text))
	if _, numErr := strconv.Atoi(pid); err != nil || numErr != nil {
		return ""
	}
	return "process " + pid
}
