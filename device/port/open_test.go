package port

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"go.bug.st/serial"
)

func TestSP9OpenWhileAway(t *testing.T) {
	c := newCable(t)
	c.Pull()
	_, err := Open(t.Context(), c.Path(), plain)
	wantKind(t, err, KindAbsent)
	if e, ok := errors.AsType[*Error](err); !ok || !e.Transient() || e.Hint == "" || !errors.Is(err, os.ErrNotExist) {
		t.Errorf("%#v is not transient, has no hint, or hides its cause", e)
	}
	c.Return()
	openOwn(t, c.Path())
}

// The node goes first and udev's link a moment later: meanwhile the link leads
// nowhere, which is a port that is away, and never one of another name.
func TestSP5LinkThatLeadsNowhere(t *testing.T) {
	c := newCable(t)
	link := filepath.Join(t.TempDir(), "by-id")
	if err := os.Symlink(c.Device(), link); err != nil {
		t.Fatal(err)
	}
	p := openOwn(t, link)
	if p.Address() != link || p.Name() != c.Device() {
		t.Errorf("opened %s as %s", p.Address(), p.Name())
	}
	c.Pull()
	_, err := p.Read(t.Context(), make([]byte, 8))
	wantKind(t, err, KindLost)
	if err := p.Close(); err != nil {
		t.Fatal(err)
	}
	for _, step := range []func() error{func() error { return nil }, func() error { return os.Remove(link) }} {
		if err := step(); err != nil { // it dangles; it is gone
			t.Fatal(err)
		}
		_, err := Open(t.Context(), link, plain)
		wantKind(t, err, KindAbsent)
		if e, ok := errors.AsType[*Error](err); !ok || !e.Transient() || !strings.Contains(e.Error(), link) {
			t.Errorf("%v is not transient, or does not name the link", err)
		}
	}
	c.Return()
	if err := os.Symlink(c.Device(), link); err != nil {
		t.Fatal(err)
	}
	if p := openOwn(t, link); p.Name() != c.Device() {
		t.Errorf("opened %s, want %s", p.Name(), c.Device())
	}
}

func TestOpenWhatIsNoPort(t *testing.T) {
	file := filepath.Join(t.TempDir(), "file")
	if err := os.WriteFile(file, []byte("keep"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, address := range []string{file, filepath.Dir(file), "/dev/null", "ttyUSB0", "usb:1", "tcp://x"} {
		_, err := Open(t.Context(), address, plain)
		wantKind(t, err, KindUnsuitable)
		if e, ok := errors.AsType[*Error](err); ok && e.Transient() {
			t.Errorf("%v is transient", err)
		}
	}
	if text, err := os.ReadFile(file); err != nil || string(text) != "keep" {
		t.Errorf("the file holds %q, %v", text, err)
	}
}

func TestSP23OpenRefusesWrongSettings(t *testing.T) {
	c := newCable(t)
	for want, s := range map[string]Settings{
		"baud: -1":     change(func(s *Settings) { s.Baud = -1 }),
		"data_bits: 9": change(func(s *Settings) { s.DataBits = 9 }),
		"stop_bits":    change(func(s *Settings) { s.StopBits = "1.5" }),
	} {
		_, err := Open(t.Context(), c.Path(), s)
		wantKind(t, err, KindUnsuitable)
		if err != nil && !strings.Contains(err.Error(), want) {
			t.Errorf("%q does not say %q", err, want)
		}
	}
	// A refused open leaves the port free.
	openOwn(t, c.Path())
}

func TestSP23EveryGoodFrameOpens(t *testing.T) {
	c := newCable(t)
	for _, s := range []Settings{
		{Baud: 300, DataBits: 7, Parity: "even", StopBits: "2", Flow: "none"},
		{Baud: 12345, DataBits: 8, Parity: "odd", StopBits: "1", Flow: "none"},
		{Baud: 921600, DataBits: 5, Parity: "none", StopBits: "1", Flow: "rts-cts"},
	} {
		p, err := Open(t.Context(), c.Path(), s)
		if err != nil {
			t.Errorf("%s: %v", s, err)
			continue
		}
		c.Send("x")
		readAll(t, p, "x")
		if err := p.Close(); err != nil {
			t.Error(err)
		}
	}
}

func TestOpenUnderAnEndedContext(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	_, err := Open(ctx, newCable(t).Path(), plain)
	wantKind(t, err, KindCanceled)
}

// What lies in the buffer from before is the tail of an old line (S-P10).
func TestSP11OpenClearsBuffers(t *testing.T) {
	c := newCable(t)
	p := openOwn(t, c.Path())
	c.Send("00226800E+00\r\n")
	// Once its first byte can be read, all of it has arrived.
	if got := readText(t, p, 1); got != "0" {
		t.Fatalf("read %q", got)
	}
	if err := p.Close(); err != nil {
		t.Fatal(err)
	}
	p = openOwn(t, c.Path())
	c.Send("new\n")
	readAll(t, p, "new\n")
}

// S-P11, S-P30: nothing that the instrument sends comes back to it.
func TestSP11NoEcho(t *testing.T) {
	c := newCable(t)
	p := openOwn(t, c.Path())
	c.Send("+1.0\r\n")
	readAll(t, p, "+1.0\r\n")
	if err := p.Write(t.Context(), []byte("READ?\n")); err != nil {
		t.Fatal(err)
	}
	if got := c.ReadLine(); got != "READ?\n" {
		t.Errorf("the instrument got %q", got)
	}
}

// modemless is a port whose modem lines say err.
type modemless struct {
	serial.Port
	err error
}

func (m modemless) SetDTR(bool) error { return m.err }
func (m modemless) SetRTS(bool) error { return m.err }

func TestFindUSB(t *testing.T) {
	twin := func(path, serial, byPath string) Info {
		return Info{Path: path, USB: true, VendorID: "0403", ProductID: "6001", Serial: serial, ByPath: byPath}
	}
	ports := []Info{
		{Path: "/dev/ttyS0"},
		twin("/dev/ttyUSB0", "A10023", "/dev/serial/by-path/one"),
		twin("/dev/ttyUSB1", "", "/dev/serial/by-path/two"),
		{Path: "/dev/ttyUSB2", USB: true, VendorID: "1a86", ProductID: "7523"},
	}
	for _, c := range []struct {
		address string
		want    string
		kind    Kind
		says    []string
	}{
		{"usb:1A86:7523", "/dev/ttyUSB2", "", nil},
		{"usb:0403:6001:a10023", "/dev/ttyUSB0", "", nil},
		{"usb:0403:6001", "", KindUnsuitable, []string{"/dev/ttyUSB0 serial A10023", "/dev/ttyUSB1 at /dev/serial/by-path/two", "by-path"}},
		{"usb:0403:6001:other", "", KindAbsent, []string{"usb:0403:6001:other"}},
		{"usb:dead:beef", "", KindAbsent, []string{"usb:dead:beef"}},
	} {
		a, err := ParseAddress(c.address)
		if err != nil {
			t.Fatal(err)
		}
		got, err := findUSB(t.Context(), a, func(context.Context) ([]Info, error) { return ports, nil })
		if got != c.want || (err != nil && kindOfOpen(err) != c.kind) || (err != nil) != (c.want == "") {
			t.Errorf("%s: %q, %v", c.address, got, err)
		}
		for _, says := range c.says {
			if !strings.Contains(err.Error(), says) {
				t.Errorf("%q does not say %q", err, says)
			}
		}
	}
	failing := &Error{Op: "list", Kind: KindFailed}
	if _, err := findUSB(t.Context(), Address{VendorID: "0403"}, func(context.Context) ([]Info, error) { return nil, failing }); !errors.Is(err, failing) {
		t.Errorf("a list that fails gives %v", err)
	}
}

func TestOpenUSBThatIsNotThere(t *testing.T) {
	_, err := Open(t.Context(), "usb:dead:beef", plain)
	wantKind(t, err, KindAbsent)
}
