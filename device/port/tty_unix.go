//go:build linux || darwin

package port

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"strings"
	"syscall"
	"time"

	"go.bug.st/serial"
	"golang.org/x/sys/unix"
)

// ttyLine is a terminal of the system through a descriptor of our own.
type ttyLine struct{ *os.File }

// openTTY opens the device and makes it ours before anything on it is changed:
// another program's line must not be reset by an attempt that is refused.
func openTTY(name string, s Settings) (line, error) {
	if s.StopBits == "1.5" {
		return nil, unsuitable(errors.New("stop_bits: this system has no 1.5 stop bits"))
	}
	if err := mustBeDevice(name); err != nil {
		return nil, err
	}
	file, err := os.OpenFile(name, os.O_RDWR|unix.O_NOCTTY|unix.O_NONBLOCK, 0)
	if err != nil {
		return nil, err
	}
	t := ttyLine{file}
	line, err := t.setUp(s)
	if err != nil {
		return nil, errors.Join(err, line.Close())
	}
	return line, nil
}

// mustBeDevice keeps an open from having effects on what is no character device.
func mustBeDevice(name string) error {
	info, err := os.Stat(name)
	if err != nil {
		return err
	}
	if info.Mode()&fs.ModeCharDevice == 0 {
		return unsuitable(fmt.Errorf("%s is not a serial port", name))
	}
	return nil
}

// setUp makes the port ours and sets it. A line that comes with an error is to be
// closed, and then t with it.
func (t ttyLine) setUp(s Settings) (line, error) {
	if err := t.claim(); err != nil {
		return t, err
	}
	line, err := t.setLine(s)
	if err != nil {
		return t, err
	}
	if s.Flow == "rts-cts" {
		err = t.throttle()
	}
	if err == nil {
		// The library's Close took back the exclusive use.
		err = t.control("exclusive use", t.exclude)
	}
	if err == nil {
		err = t.control("clear buffers", flushBoth)
	}
	return line, err
}

// setLine has the library set the line, and gives what carries the bytes: t, or the
// library's port if the system's poller does not take this device. The library opens the device a
// second time, and without close-on-exec: so no child may be started until it has
// closed it again. Everything in Go that starts a process waits for this lock.
func (t ttyLine) setLine(s Settings) (line, error) {
	syscall.ForkLock.RLock()
	defer syscall.ForkLock.RUnlock()
	lib, err := serial.Open(t.Name(), s.mode())
	if err != nil {
		return nil, err
	}
	if err := raiseLines(lib); err != nil {
		return nil, errors.Join(err, lib.Close())
	}
	if errors.Is(t.SetDeadline(time.Time{}), os.ErrNoDeadline) {
		return newSlicedLine(lib, t.Close)
	}
	return t, lib.Close()
}

// raiseLines raises DTR and RTS; a device without modem lines says ENOTTY.
func raiseLines(lib serial.Port) error {
	for _, set := range []func(bool) error{lib.SetDTR, lib.SetRTS} {
		if err := set(true); err != nil && !errors.Is(err, syscall.ENOTTY) {
			return fmt.Errorf("raise modem lines: %w", err)
		}
	}
	return nil
}

// claim takes the port for this program. The lock on the device itself needs no
// lock file, ends with the process, holds against root, and keeps out other
// programs that use it. A file system that knows no such lock leaves it to the
// exclusive flag.
func (t ttyLine) claim() error {
	return t.control("claim", func(fd int) error {
		if err := unix.Flock(fd, unix.LOCK_EX|unix.LOCK_NB); errors.Is(err, unix.EWOULDBLOCK) {
			return errHeld
		}
		if !t.pseudo() && exclusive(fd) {
			return errHeld
		}
		return nil
	})
}

// exclude keeps other users' opens out. The kernel drops that flag only with the
// last descriptor, and a pseudo-terminal's far end usually keeps one: there a
// killed program would leave the port busy for good, so the lock has to do.
func (t ttyLine) exclude(fd int) error {
	if t.pseudo() {
		return unix.IoctlSetInt(fd, unix.TIOCNXCL, 0)
	}
	return unix.IoctlSetInt(fd, unix.TIOCEXCL, 0)
}

// Close gives lock and flag back first: a child that is just being started has a
// copy of the descriptor until it becomes its program, and would keep both.
func (t ttyLine) Close() error {
	// A dead device has nothing to give back.
	_ = t.control("give back", func(fd int) error {
		return errors.Join(unix.IoctlSetInt(fd, unix.TIOCNXCL, 0), unix.Flock(fd, unix.LOCK_UN))
	})
	return t.File.Close()
}

func (t ttyLine) pseudo() bool { return strings.HasPrefix(t.Name(), pseudoPrefix) }

// throttle switches RTS/CTS on, which the library always switches off.
func (t ttyLine) throttle() error {
	return t.control("flow", func(fd int) error {
		termios, err := unix.IoctlGetTermios(fd, getTermios)
		if err != nil {
			return err
		}
		termios.Cflag |= unix.CRTSCTS
		if err := unix.IoctlSetTermios(fd, setTermios, termios); err != nil {
			return err
		}
		if termios, err = unix.IoctlGetTermios(fd, getTermios); err == nil && termios.Cflag&unix.CRTSCTS == 0 {
			return unsuitable(errors.New("the device takes no rts-cts"))
		}
		return err
	})
}

func (t ttyLine) waiting(b []byte) (int, error) { return readNow(t.File, b) }

func (t ttyLine) discard() error    { return t.control("clear input", flushInput) }
func (t ttyLine) dropUnsent() error { return t.control("clear output", flushOutput) }

// control runs f on the descriptor, which cannot be closed meanwhile.
func (t ttyLine) control(what string, f func(fd int) error) error {
	raw, err := t.SyscallConn()
	if err != nil {
		return err
	}
	var inner error
	if err := raw.Control(func(fd uintptr) { inner = f(int(fd)) }); err != nil {
		return err
	}
	if inner != nil {
		return fmt.Errorf("%s: %w", what, inner)
	}
	return nil
}

var _ line = ttyLine{}
