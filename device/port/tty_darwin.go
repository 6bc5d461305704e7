package port

import "golang.org/x/sys/unix"

const (
	pseudoPrefix = "/dev/ttys"
	getTermios   = unix.TIOCGETA
	setTermios   = unix.TIOCSETA
)

// FREAD and FWRITE of <sys/fcntl.h>, which TIOCFLUSH takes.
const (
	fread  = 1
	fwrite = 2
)

func flushBoth(fd int) error   { return unix.IoctlSetPointerInt(fd, unix.TIOCFLUSH, fread|fwrite) }
func flushInput(fd int) error  { return unix.IoctlSetPointerInt(fd, unix.TIOCFLUSH, fread) }
func flushOutput(fd int) error { return unix.IoctlSetPointerInt(fd, unix.TIOCFLUSH, fwrite) }

// exclusive cannot be asked here; the lock alone holds against root.
func exclusive(int) bool { return false }
