//go:build linux || darwin || freebsd || netbsd || openbsd

package simbench

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"sync"

	"github.com/creack/pty"
	"golang.org/x/sys/unix"
	"golang.org/x/term"
)

// ptySupported tells whether this system has pseudo-terminals.
const ptySupported = true

// ptyLink is an instrument behind a pseudo-terminal, with a symbolic link for the
// port's name. One slave descriptor stays open: without it the master reads an
// error while nobody has the port open, and a fresh terminal would echo.
type ptyLink struct {
	path          string
	master, slave *os.File
	taken         bool
	once          sync.Once
	closeErr      error
}

func openPTY(path string) (link, error) {
	master, slave, err := pty.Open()
	if err != nil {
		return nil, fmt.Errorf("opening a pseudo-terminal for %s: %w", path, err)
	}
	if master, err = polled(master); err != nil {
		return nil, errors.Join(err, slave.Close())
	}
	l := &ptyLink{path: path, master: master, slave: slave}
	if _, err := term.MakeRaw(int(slave.Fd())); err != nil {
		return nil, errors.Join(fmt.Errorf("making %s raw: %w", path, err), l.closeFiles())
	}
	if err := l.name(); err != nil {
		return nil, errors.Join(err, l.closeFiles())
	}
	return l, nil
}

// polled hands the master to Go's poller. The library leaves it blocking, and then
// neither closing it would end a waiting read nor a deadline a waiting write.
func polled(blocking *os.File) (*os.File, error) {
	fd, err := unix.FcntlInt(blocking.Fd(), unix.F_DUPFD_CLOEXEC, 0)
	if err == nil {
		err = unix.SetNonblock(fd, true)
	}
	if err = errors.Join(err, blocking.Close()); err != nil {
		return nil, fmt.Errorf("taking over a pseudo-terminal: %w", err)
	}
	return os.NewFile(uintptr(fd), blocking.Name()), nil
}

// name makes the link. One that an earlier bench left behind is replaced; any
// other file is not ours to remove.
func (l *ptyLink) name() error {
	info, err := os.Lstat(l.path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
	case err != nil:
		return fmt.Errorf("looking for %s: %w", l.path, err)
	case info.Mode()&fs.ModeSymlink == 0:
		return fmt.Errorf("%s is there and is no symbolic link: choose another port name", l.path)
	default:
		if err := os.Remove(l.path); err != nil {
			return fmt.Errorf("replacing the old link: %w", err)
		}
	}
	if err := os.Symlink(l.slave.Name(), l.path); err != nil {
		return fmt.Errorf("naming the port: %w", err)
	}
	return nil
}

// accept gives the master once: a terminal does not tell when readers come and go.
func (l *ptyLink) accept(ctx context.Context) (connection, error) {
	if l.taken {
		<-ctx.Done()
		return nil, ctx.Err()
	}
	l.taken = true
	return l.master, nil
}

func (l *ptyLink) address() string { return l.path }

// close is the unplug: the master goes and the name with it.
func (l *ptyLink) close() error {
	l.once.Do(func() {
		var gone error
		if to, err := os.Readlink(l.path); err == nil && to == l.slave.Name() {
			gone = os.Remove(l.path)
		}
		l.closeErr = errors.Join(gone, l.closeFiles())
	})
	return l.closeErr
}

// closeFiles closes both ends; whoever had the port open reads an error from then
// on.
func (l *ptyLink) closeFiles() error {
	err := l.master.Close()
	if errors.Is(err, os.ErrClosed) {
		err = nil // the connection's user has closed it
	}
	return errors.Join(err, l.slave.Close())
}
