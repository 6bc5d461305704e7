//go:build !(linux || darwin || freebsd || netbsd || openbsd)

package simbench

import "fmt"

// ptySupported tells whether this system has pseudo-terminals.
const ptySupported = false

func openPTY(path string) (link, error) {
	return nil, fmt.Errorf("%s: this system has no pseudo-terminals; use 127.0.0.1:0", path)
}
