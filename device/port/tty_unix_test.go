//go:build linux || darwin

package port

import (
	"bufio"
	"encoding/json"
	"errors"
	"os"
	"os/exec"
	"strings"
	"syscall"
	"testing"

	"go.bug.st/serial"
	"golang.org/x/sys/unix"
)

// nobody is the user that owns nothing (65534 on Linux).
const nobody = 65534

// child is the test binary in a process of its own.
type child struct {
	cmd    *exec.Cmd
	report childReport
	end    func() error
}

// start runs task; as root it runs as nobody, so that permissions count.
func start(t *testing.T, task, address string) child {
	t.Helper()
	// Through the link in /proc another user reaches a binary whose folder is
	// closed to him.
	binary, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat("/proc/self/exe"); err == nil {
		binary = "/proc/self/exe"
	}
	cmd := exec.Command(binary)
	cmd.Env = append(os.Environ(), childTask+"="+task, childPort+"="+address)
	cmd.Dir = "/"
	cmd.Stderr = os.Stderr
	if os.Geteuid() == 0 {
		cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: nobody, Gid: nobody}}
	}
	in, err := cmd.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	c := child{cmd: cmd, end: func() error { return errors.Join(in.Close(), cmd.Wait()) }}
	line, err := bufio.NewReader(out).ReadBytes('\n')
	if err == nil {
		err = json.Unmarshal(line, &c.report)
	}
	if err != nil {
		t.Fatalf("child %s said %q: %v, %v", task, line, err, c.end())
	}
	return c
}

// ask runs a child that opens and reports.
func ask(t *testing.T, address string) childReport {
	t.Helper()
	c := start(t, "open", address)
	if err := c.end(); err != nil {
		t.Fatal(err)
	}
	return c.report
}

// inherited gives what a child finds open.
func inherited(t *testing.T) string {
	t.Helper()
	out, err := exec.Command("sh", "-c", "ls -l /dev/fd/").CombinedOutput()
	if err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	return string(out)
}

func TestSP7ChildrenInheritNothing(t *testing.T) {
	c := newCable(t)
	lib, err := serial.Open(c.Device(), plain.mode())
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(inherited(t), c.Device()) {
		t.Error("a child does not inherit what the library opens, so this test sees nothing")
	}
	if err := lib.Close(); err != nil {
		t.Fatal(err)
	}
	p := openOwn(t, c.Path())
	if out := inherited(t); strings.Contains(out, c.Device()) {
		t.Errorf("a child inherits %s:\n%s", p.Name(), out)
	}
}

// A child that is started in the middle of an Open gets nothing either.
func TestSP7ChildrenStartedWhileOpening(t *testing.T) {
	c := newCable(t)
	stop, done := make(chan struct{}), make(chan error, 1)
	go func() {
		for {
			select {
			case <-stop:
				done <- nil
				return
			default:
			}
			p, err := Open(t.Context(), c.Device(), plain)
			if err == nil {
				err = p.Close()
			}
			if err != nil {
				done <- err
				return
			}
		}
	}()
	for range 40 {
		if out := inherited(t); strings.Contains(out, c.Device()) {
			t.Errorf("a child inherits the port:\n%s", out)
		}
	}
	close(stop)
	if err := <-done; err != nil {
		t.Error(err)
	}
}

// A descriptor beyond the reach of select makes the library panic.
func TestSP16DescriptorsBeyondSelect(t *testing.T) {
	for range unix.FD_SETSIZE + 8 {
		f, err := os.Open(os.DevNull)
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
	}
	c := newCable(t)
	c.Answer(func(line string) string { return line })
	p := openOwn(t, c.Path())
	if err := p.Write(t.Context(), []byte("far out\n")); err != nil {
		t.Fatal(err)
	}
	readAll(t, p, "far out\n")
	if err := p.Close(); err != nil {
		t.Fatal(err)
	}
	p = openLibrary(t, c.Path())
	_, err := p.Read(t.Context(), make([]byte, 8))
	wantKind(t, err, KindUnsuitable)
}

func TestSP21SecondOpen(t *testing.T) {
	c := newCable(t)
	if err := os.Chmod(c.Device(), 0o666); err != nil {
		t.Fatal(err)
	}
	p := openOwn(t, c.Path())
	// In this process, by whatever name, as whatever user (root is not stopped by
	// the exclusive flag); and in another.
	_, err := Open(t.Context(), c.Device(), plain)
	wantKind(t, err, KindBusy)
	if e, ok := errors.AsType[*Error](err); !ok || !e.Transient() || e.Hint == "" {
		t.Errorf("%#v is not transient, or has no hint", e)
	}
	if report := ask(t, c.Device()); report.Kind != KindBusy {
		t.Errorf("another process got %+v", report)
	}
	// The attempts have done the holder no harm.
	c.Send("mine\n")
	readAll(t, p, "mine\n")
	if err := p.Close(); err != nil {
		t.Fatal(err)
	}
	if report := ask(t, c.Device()); report.Kind != "" {
		t.Errorf("a port that was given back: %+v", report)
	}
}

func TestSP21HolderInAnotherProcess(t *testing.T) {
	c := newCable(t)
	if err := os.Chmod(c.Device(), 0o666); err != nil {
		t.Fatal(err)
	}
	holder := start(t, "hold", c.Device())
	if holder.report.Kind != "" {
		t.Fatalf("the holder got %+v", holder.report)
	}
	_, err := Open(t.Context(), c.Path(), plain)
	wantKind(t, err, KindBusy)
	if err := holder.end(); err != nil {
		t.Error(err)
	}
	openOwn(t, c.Path())
}

// On a pseudo-terminal the exclusive flag would stay behind, because the far end
// keeps the slave open; a plain user could never open it again.
func TestSP22FreeAfterKill(t *testing.T) {
	c := newCable(t)
	if err := os.Chmod(c.Device(), 0o666); err != nil {
		t.Fatal(err)
	}
	holder := start(t, "hold", c.Device())
	if holder.report.Kind != "" {
		t.Fatalf("the holder got %+v", holder.report)
	}
	if err := holder.cmd.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	if err := holder.end(); err == nil {
		t.Fatal("the holder was not killed")
	}
	if report := ask(t, c.Device()); report.Kind != "" {
		t.Errorf("after the kill another process got %+v", report)
	}
	openOwn(t, c.Path())
}

// On a real port the flag is set, and is looked at before anything is changed:
// the terminal is called as a real port would be.
func TestSP21ExclusiveFlagOfARealPort(t *testing.T) {
	device := newCable(t).Device()
	file, err := os.OpenFile(device, os.O_RDWR|unix.O_NOCTTY|unix.O_NONBLOCK, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	fd, err := unix.FcntlInt(file.Fd(), unix.F_DUPFD_CLOEXEC, 0)
	if err != nil {
		t.Fatal(err)
	}
	real := ttyLine{os.NewFile(uintptr(fd), "/dev/ttyUSB0")}
	defer real.Close()
	if err := real.claim(); err != nil {
		t.Fatal(err)
	}
	if err := real.control("exclusive use", real.exclude); err != nil {
		t.Fatal(err)
	}
	if exclusiveCanBeAsked {
		if err := real.claim(); !errors.Is(err, errHeld) {
			t.Errorf("a port with the exclusive flag: %v", err)
		}
	}
	if err := real.control("give back", func(fd int) error { return unix.IoctlSetInt(fd, unix.TIOCNXCL, 0) }); err != nil {
		t.Error(err)
	}
}

// A fresh terminal echoes, and turns CR into LF: an instrument that talks gets its
// own readings back as commands until the port is opened, and not afterwards.
func TestSP11EchoEndsWithTheOpen(t *testing.T) {
	c := newCable(t)
	cook(t, c.Device())
	c.Send("+1.0\r\n")
	if got := c.ReadLine() + c.ReadLine(); got != "+1.0\r\n\r\n" {
		t.Fatalf("the instrument got %q back, so this test sees nothing", got)
	}
	p := openOwn(t, c.Path())
	c.Send("+2.0\r\n")
	readAll(t, p, "+2.0\r\n")
	if err := p.Write(t.Context(), []byte("*CLS\n")); err != nil {
		t.Fatal(err)
	}
	if got := c.ReadLine(); got != "*CLS\n" {
		t.Errorf("the instrument got %q", got)
	}
}

// cook sets a terminal as the kernel makes a new one.
func cook(t *testing.T, device string) {
	t.Helper()
	file, err := os.OpenFile(device, os.O_RDWR|unix.O_NOCTTY, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	termios, err := unix.IoctlGetTermios(int(file.Fd()), getTermios)
	if err != nil {
		t.Fatal(err)
	}
	termios.Lflag |= unix.ECHO | unix.ICANON
	termios.Iflag |= unix.ICRNL
	termios.Oflag |= unix.OPOST | unix.ONLCR
	if err := unix.IoctlSetTermios(int(file.Fd()), setTermios, termios); err != nil {
		t.Fatal(err)
	}
}

func TestSP24ModemLines(t *testing.T) {
	if err := raiseLines(modemless{err: syscall.ENOTTY}); err != nil {
		t.Errorf("a device without modem lines: %v", err)
	}
	if err := raiseLines(modemless{err: syscall.EIO}); !errors.Is(err, syscall.EIO) || kindOfOpen(err) != KindAbsent {
		t.Errorf("a device that went: %v", err)
	}
	openOwn(t, newCable(t).Path())
}

func TestFlowIsSetAndTakenBack(t *testing.T) {
	c := newCable(t)
	throttled := func() bool {
		var on bool
		file, err := os.OpenFile(c.Device(), os.O_RDWR|unix.O_NOCTTY, 0)
		if err != nil {
			t.Fatal(err)
		}
		defer file.Close()
		termios, err := unix.IoctlGetTermios(int(file.Fd()), getTermios)
		if err != nil {
			t.Fatal(err)
		}
		on = termios.Cflag&unix.CRTSCTS != 0
		return on
	}
	for _, flow := range []string{"rts-cts", "none"} {
		p, err := Open(t.Context(), c.Path(), change(func(s *Settings) { s.Flow = flow }))
		if err != nil {
			t.Fatal(err)
		}
		if got := throttled(); got != (flow == "rts-cts") {
			t.Errorf("flow %s: RTS/CTS is %t", flow, got)
		}
		if err := p.Close(); err != nil {
			t.Error(err)
		}
	}
}
