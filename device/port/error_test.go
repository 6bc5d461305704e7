package port

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"syscall"
	"testing"
	"time"

	"go.bug.st/serial"
)

// fake is a line that fails as told.
type fake struct {
	err error
	n   int
}

func (f fake) Read([]byte) (int, error)         { return f.n, f.err }
func (f fake) Write([]byte) (int, error)        { return f.n, f.err }
func (f fake) Close() error                     { return f.err }
func (f fake) SetReadDeadline(time.Time) error  { return nil }
func (f fake) SetWriteDeadline(time.Time) error { return nil }
func (f fake) waiting([]byte) (int, error)      { return f.n, f.err }
func (f fake) discard() error                   { return f.err }
func (f fake) dropUnsent() error                { return nil }

// The library's own value for a closed port cannot be built from outside, so it
// is taken from a port that was closed.
func portClosed(t *testing.T) error {
	t.Helper()
	lib, err := serial.Open(newCable(t).Device(), plain.mode())
	if err != nil {
		t.Fatal(err)
	}
	if err := lib.Close(); err != nil {
		t.Fatal(err)
	}
	_, err = lib.Read(make([]byte, 1))
	if coded, ok := errors.AsType[*serial.PortError](err); !ok || coded.Code() != serial.PortClosed {
		t.Fatalf("a closed port of the library reads %v", err)
	}
	return err
}

func TestFaultsOfAnOpenPort(t *testing.T) {
	for _, c := range []struct {
		source string
		err    error
	}{
		{"S-P1", portClosed(t)},
		{"S-P2", syscall.EIO},
		{"S-P2, the first instant", syscall.ENODEV},
		{"S-P2, cdc_acm", syscall.EINTR},
		{"S-P19", syscall.EBADF},
		{"S-P1, through a file", io.EOF},
		{"wrapped", &os.PathError{Op: "read", Path: "/dev/ttyUSB0", Err: syscall.EIO}},
		{"a serial server that was reset", syscall.ECONNRESET},
	} {
		t.Run(c.source, func(t *testing.T) {
			p := &Port{address: "usb:0403:6001", name: "/dev/ttyUSB0", line: fake{err: c.err}}
			_, err := p.Read(t.Context(), make([]byte, 1))
			wantKind(t, err, KindLost)
			wantKind(t, p.Write(t.Context(), []byte("x")), KindLost)
			wantKind(t, p.Discard(), KindLost)
			if e, ok := errors.AsType[*Error](err); !ok || !e.Transient() || e.Hint == "" {
				t.Errorf("%#v is not transient, or has no hint", e)
			}
			if !errors.Is(err, c.err) && !errors.Is(c.err, io.EOF) {
				t.Errorf("%v hides its cause", err)
			}
			p.closed.Store(true)
			_, err = p.Read(t.Context(), make([]byte, 1))
			wantKind(t, err, KindClosed)
		})
	}
}

func TestFaultsOfAnOpen(t *testing.T) {
	for _, c := range []struct {
		source string
		err    error
		want   Kind
	}{
		{"S-P9", syscall.ENOENT, KindAbsent},
		{"S-P9", syscall.ENODEV, KindAbsent},
		{"an adapter that is not ready", syscall.ENXIO, KindAbsent},
		{"S-P9, through the descriptor", fmt.Errorf("claim: %w", syscall.EIO), KindAbsent},
		{"S-P9", &os.PathError{Op: "open", Path: "/dev/ttyUSB0", Err: syscall.EACCES}, KindDenied},
		{"S-P21", syscall.EBUSY, KindBusy},
		{"S-P21, root", fmt.Errorf("claim: %w", errHeld), KindBusy},
		{"no terminal", syscall.ENOTTY, KindUnsuitable},
		{"a folder", syscall.EISDIR, KindUnsuitable},
		{"S-P23", unsuitable(errors.New("stop_bits")), KindUnsuitable},
		{"two errors in one", errors.Join(errHeld, syscall.EBADF), KindBusy},
		{"too many open files", syscall.EMFILE, KindFailed},
		{"the caller's deadline", context.DeadlineExceeded, KindTimeout},
		{"the caller's end", context.Canceled, KindCanceled},
	} {
		if got := kindOfOpen(c.err); got != c.want {
			t.Errorf("%s: %v is %s, want %s", c.source, c.err, got, c.want)
		}
	}
}

// The library's own errors can be had only from the library: these are its words
// for a node that is no terminal, for a mode it refuses, and for a closed port.
func TestFaultsOfTheLibrary(t *testing.T) {
	_, noTerminal := serial.Open(os.DevNull, plain.mode())
	_, noMode := serial.Open(newCable(t).Device(), &serial.Mode{DataBits: 9})
	for _, c := range []struct {
		source string
		err    error
		want   Kind
	}{
		{"no terminal", noTerminal, KindUnsuitable},
		{"S-P23", noMode, KindUnsuitable},
		{"S-P9, went while it was opened", portClosed(t), KindAbsent},
	} {
		if got := kindOfOpen(c.err); got != c.want {
			t.Errorf("%s: %v is %s, want %s", c.source, c.err, got, c.want)
		}
	}
	// S-P9: the cause stands in the text only.
	for text, want := range map[string]Kind{
		"Invalid serial port: error getting term settings: input/output error": KindAbsent,
		"Invalid serial port: error getting term settings: no such device":     KindAbsent,
		"Invalid serial port: error configuring port: something else":          KindUnsuitable,
	} {
		if got := kindOfInvalid(text); got != want {
			t.Errorf("%q is %s, want %s", text, got, want)
		}
	}
}

func TestTransient(t *testing.T) {
	for kind, want := range map[Kind]bool{
		KindLost: true, KindAbsent: true, KindBusy: true, KindTimeout: true, KindFailed: true,
		KindDenied: false, KindUnsuitable: false, KindClosed: false, KindCanceled: false,
	} {
		if got := (&Error{Kind: kind}).Transient(); got != want {
			t.Errorf("%s: transient %t, want %t", kind, got, want)
		}
	}
	if !(&Error{Kind: KindDenied, settling: true}).Transient() {
		t.Error("S-P9: a denial of a node that udev has not handed over yet is not transient")
	}
}

func TestErrorText(t *testing.T) {
	p := &Port{address: "usb:0403:6001", name: "/dev/ttyUSB1", line: fake{err: syscall.EIO}}
	want := "write usb:0403:6001 (/dev/ttyUSB1): lost: input/output error"
	if got := p.Write(t.Context(), []byte("x")).Error(); got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
	if got := (&Error{Op: "open", Port: "COM3", Kind: KindAbsent}).Error(); got != "open COM3: absent" {
		t.Error(got)
	}
	if err := p.Close(); err == nil || p.Close() != nil {
		t.Error("a failed close is not told, or told twice")
	}
}

// Bytes that come together with an error are not lost.
func TestReadGivesBytesBeforeTheError(t *testing.T) {
	p := &Port{line: fake{n: 3, err: syscall.EIO}}
	if n, err := p.Read(t.Context(), make([]byte, 8)); n != 3 || err != nil {
		t.Errorf("Read = %d, %v", n, err)
	}
}

func wantKind(t *testing.T, err error, want Kind) {
	t.Helper()
	if e, ok := errors.AsType[*Error](err); !ok || e.Kind != want {
		t.Errorf("got %v, want an error of kind %s", err, want)
	}
}
