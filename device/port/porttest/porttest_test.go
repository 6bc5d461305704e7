package porttest_test

import (
	"io"
	"net"
	"os"
	"strings"
	"testing"

	"soakline/device/port/porttest"

	"go.uber.org/goleak"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

func openDevice(t *testing.T, c *porttest.Cable) *os.File {
	t.Helper()
	file, err := os.OpenFile(c.Path(), os.O_RDWR, 0)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = file.Close() })
	return file
}

// S-P30: what is sent before anybody opens is kept, and nothing is echoed.
func TestSP30SentBeforeTheOpen(t *testing.T) {
	c := porttest.NewCable(t)
	c.Send("early\r\n")
	file := openDevice(t, c)
	b := make([]byte, 16)
	if n, err := io.ReadFull(file, b[:7]); err != nil || string(b[:n]) != "early\r\n" {
		t.Fatalf("read %q, %v", b[:n], err)
	}
	if _, err := io.WriteString(file, "READ?\n"); err != nil {
		t.Fatal(err)
	}
	if got := c.ReadLine(); got != "READ?\n" {
		t.Errorf("the far end got %q", got)
	}
}

func TestSP30PulledAndPutBack(t *testing.T) {
	c := porttest.NewCable(t)
	file := openDevice(t, c)
	path, device := c.Path(), c.Device()
	c.Pull()
	c.Pull()
	if n, err := file.Read(make([]byte, 1)); n != 0 || err == nil {
		t.Errorf("a pulled line reads %d bytes, %v", n, err)
	}
	for _, name := range []string{path, device} {
		if _, err := os.Lstat(name); !os.IsNotExist(err) {
			t.Errorf("%s is still there: %v", name, err)
		}
	}
	c.Return()
	if c.Path() != path {
		t.Errorf("the link moved to %s", c.Path())
	}
	again := openDevice(t, c)
	c.Answer(strings.ToUpper)
	if _, err := io.WriteString(again, "hello\n"); err != nil {
		t.Fatal(err)
	}
	b := make([]byte, 6)
	if _, err := io.ReadFull(again, b); err != nil || string(b) != "HELLO\n" {
		t.Errorf("read %q, %v", b, err)
	}
	c.Pull()
	c.ReturnAs("other")
	if c.Path() == path || !strings.HasSuffix(c.Path(), "other") {
		t.Errorf("the port came back as %s", c.Path())
	}
}

func TestStallStopsAnswering(t *testing.T) {
	c := porttest.NewCable(t)
	file := openDevice(t, c)
	c.Answer(func(line string) string { return line })
	c.Stall()
	if _, err := io.WriteString(file, "kept\n"); err != nil {
		t.Fatal(err)
	}
	// Nobody answered: the line is still there to be read.
	if got := c.ReadLine(); got != "kept\n" {
		t.Errorf("the far end got %q", got)
	}
}

func TestServer(t *testing.T) {
	s := porttest.NewServer(t)
	host := strings.TrimPrefix(s.Address(), "tcp://")
	dial := func() net.Conn {
		conn, err := net.Dial("tcp", host)
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { _ = conn.Close() })
		s.Await()
		return conn
	}
	first := dial()
	s.Send("one\n")
	b := make([]byte, 4)
	if _, err := io.ReadFull(first, b); err != nil || string(b) != "one\n" {
		t.Fatalf("read %q, %v", b, err)
	}
	s.Drop()
	if _, err := first.Read(b); err == nil {
		t.Error("a dropped connection reads on")
	}
	second := dial()
	s.Answer(strings.ToUpper)
	if _, err := io.WriteString(second, "two\n"); err != nil {
		t.Fatal(err)
	}
	if _, err := io.ReadFull(second, b); err != nil || string(b) != "TWO\n" {
		t.Errorf("read %q, %v", b, err)
	}
	s.Shut()
	if _, err := net.Dial("tcp", host); err == nil {
		t.Error("a shut server takes connections")
	}
}
