//go:build !linux && !darwin

package porttest

import (
	"os"

	"github.com/creack/pty"
)

func openRaw() (master, slave *os.File, err error) { return nil, nil, pty.ErrUnsupported }
