package porttest

import (
	"errors"
	"os"
	"path/filepath"
	"testing"

	"github.com/creack/pty"
)

// Cable is a pseudo-terminal pair. A link stands for the port, because a new pair
// has a new device name, as an adapter may have. The slave is raw and one
// descriptor of it is kept, so that what is sent before the program opens the
// port is kept too, and nothing is echoed.
type Cable struct {
	FarEnd
	path   string
	device string
	keep   *os.File
}

// NewCable plugs a cable in. Where the system has no pseudo-terminals the test is
// skipped with that reason.
func NewCable(t testing.TB) *Cable {
	t.Helper()
	c := &Cable{FarEnd: FarEnd{t: t}, path: filepath.Join(t.TempDir(), "port")}
	c.Return()
	t.Cleanup(c.Pull)
	return c
}

// Path gives the link that stands for the port.
func (c *Cable) Path() string { return c.path }

// Device gives the name of the pseudo-terminal that is plugged in.
func (c *Cable) Device() string { return c.device }

// Pull takes the plug out: the program's line hangs up, and both the device and
// the link are gone. Pulling twice does nothing.
func (c *Cable) Pull() {
	if c.keep == nil {
		return
	}
	if err := errors.Join(os.Remove(c.path), c.keep.Close()); err != nil {
		c.t.Errorf("pull: %v", err)
	}
	c.keep = nil
	c.end()
}

// Return puts the plug back: the same link leads to a new device.
func (c *Cable) Return() {
	c.t.Helper()
	if c.keep != nil {
		c.t.Fatal("return: the plug is in")
	}
	master, slave, err := openRaw()
	if errors.Is(err, pty.ErrUnsupported) {
		c.t.Skip("this system has no pseudo-terminals")
	}
	if err != nil {
		c.t.Fatalf("pseudo-terminal: %v", err)
	}
	c.attach(master)
	c.keep, c.device = slave, slave.Name()
	if err := os.Symlink(c.device, c.path); err != nil {
		c.t.Fatal(err)
	}
}

// ReturnAs puts the plug back under another name beside the old one.
func (c *Cable) ReturnAs(name string) {
	c.t.Helper()
	c.path = filepath.Join(filepath.Dir(c.path), name)
	c.Return()
}

// Swap lets two cables that are pulled come back under each other's name.
func Swap(a, b *Cable) {
	a.t.Helper()
	a.path, b.path = b.path, a.path
	a.Return()
	b.Return()
}
