//go:build linux || darwin

package porttest

import (
	"errors"
	"os"

	"github.com/creack/pty"
	"golang.org/x/sys/unix"
	"golang.org/x/term"
)

// openRaw gives a master that can be waited for with a deadline, and a raw slave.
func openRaw() (master, slave *os.File, err error) {
	first, slave, err := pty.Open()
	if err != nil {
		return nil, nil, err
	}
	// The pty library leaves the master blocking; a copy of our own is not.
	master, err = pollable(first)
	err = errors.Join(err, first.Close())
	if err == nil {
		_, err = term.MakeRaw(int(slave.Fd()))
	}
	if err != nil {
		return nil, nil, errors.Join(err, slave.Close())
	}
	return master, slave, nil
}

func pollable(file *os.File) (*os.File, error) {
	fd, err := unix.FcntlInt(file.Fd(), unix.F_DUPFD_CLOEXEC, 0)
	if err != nil {
		return nil, err
	}
	if err := unix.SetNonblock(fd, true); err != nil {
		return nil, errors.Join(err, unix.Close(fd))
	}
	return os.NewFile(uintptr(fd), file.Name()), nil
}
