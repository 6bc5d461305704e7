//go:build linux || darwin

package main

import (
	"io"
	"os"

	"golang.org/x/sys/unix"
)

// tabEndsLine has a terminal hand over what was typed at a tab as well, as some
// scanners end what they read; restore makes it as it was. On anything else it does
// nothing.
func tabEndsLine(in io.Reader) (restore func()) {
	file, ok := in.(*os.File)
	if !ok {
		return func() {}
	}
	fd := int(file.Fd())
	before, err := unix.IoctlGetTermios(fd, getTermios)
	if err != nil {
		return func() {}
	}
	changed := *before
	changed.Cc[unix.VEOL] = '\t'
	if unix.IoctlSetTermios(fd, setTermios, &changed) != nil {
		return func() {}
	}
	return func() { _ = unix.IoctlSetTermios(fd, setTermios, before) } // the terminal may be gone
}
