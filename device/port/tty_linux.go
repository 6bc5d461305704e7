package port

import "golang.org/x/sys/unix"

const (
	pseudoPrefix = "/dev/pts/"
	getTermios   = unix.TCGETS
	setTermios   = unix.TCSETS
)

func flushBoth(fd int) error   { return unix.IoctlSetInt(fd, unix.TCFLSH, unix.TCIOFLUSH) }
func flushInput(fd int) error  { return unix.IoctlSetInt(fd, unix.TCFLSH, unix.TCIFLUSH) }
func flushOutput(fd int) error { return unix.IoctlSetInt(fd, unix.TCFLSH, unix.TCOFLUSH) }

// exclusive reports whether somebody has the device for himself, which the kernel
// does not hold against root.
func exclusive(fd int) bool {
	set, err := unix.IoctlGetInt(fd, unix.TIOCGEXCL)
	return err == nil && set != 0
}
