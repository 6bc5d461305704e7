package port

import (
	"errors"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"go.bug.st/serial/enumerator"
	"golang.org/x/sys/unix"
)

// tree builds the part of sysfs that the kernel makes for serial ports, and udev's
// links. Names and places are those of Documentation/ABI/stable/sysfs-bus-usb and
// testing/sysfs-tty; the identity is invented.
func tree(t *testing.T) (sys, dev string) {
	t.Helper()
	root := t.TempDir()
	sys, dev = filepath.Join(root, "sys"), filepath.Join(root, "dev")
	usb := "devices/pci0000:00/usb1/1-"
	for name, text := range map[string]string{
		usb + "1/idVendor":      "0403\n",
		usb + "1/idProduct":     "6001\n",
		usb + "1/serial":        "BED0001\n",
		usb + "1/manufacturer":  "Saltmarsh\n",
		usb + "1/product":       "Saltmarsh serial cable\n",
		usb + "2/idVendor":      "1A86\n",
		usb + "2/idProduct":     "7523\n",
		"class/tty/ttyS0/type":  "4\n",
		"class/tty/ttyS1/type":  "0\n",
		"class/tty/tty0/active": "tty1\n",
	} {
		write(t, filepath.Join(sys, name), text)
	}
	adapters := map[string]string{
		"ttyUSB0": usb + "1/1-1:1.0/ttyUSB0",
		"ttyACM0": usb + "2/1-2:1.0",
		"ttyS0":   "devices/platform/serial8250/s0",
		"ttyS1":   "devices/platform/serial8250/s1",
	}
	for name, device := range adapters {
		device = filepath.Join(sys, device)
		link(t, device, filepath.Join(sys, "class/tty", name, "device"))
		write(t, filepath.Join(dev, name), "")
	}
	link(t, filepath.Join(dev, "ttyUSB0"), filepath.Join(dev, "serial/by-id/usb-Saltmarsh"))
	link(t, filepath.Join(dev, "ttyUSB0"), filepath.Join(dev, "serial/by-id/.#usb-Saltmarsh"))
	link(t, filepath.Join(dev, "ttyACM0"), filepath.Join(dev, "serial/by-path/pci-usb-0:2"))
	if err := os.Symlink(filepath.Join(dev, "ttyUSB9"), filepath.Join(dev, "serial/by-path/dangling")); err != nil {
		t.Fatal(err)
	}
	return sys, dev
}

func write(t *testing.T, name, text string) {
	t.Helper()
	if err := errors.Join(os.MkdirAll(filepath.Dir(name), 0o755), os.WriteFile(name, []byte(text), 0o644)); err != nil {
		t.Fatal(err)
	}
}

func link(t *testing.T, to, name string) {
	t.Helper()
	if _, err := os.Stat(to); err != nil {
		if err := os.MkdirAll(to, 0o755); err != nil {
			t.Fatal(err)
		}
	}
	if err := errors.Join(os.MkdirAll(filepath.Dir(name), 0o755), os.Symlink(to, name)); err != nil {
		t.Fatal(err)
	}
}

func TestSP27Scan(t *testing.T) {
	sys, dev := tree(t)
	got, err := scan(sys, dev)
	if err != nil {
		t.Fatal(err)
	}
	slices.SortFunc(got, func(a, b Info) int { return compareNames(a.Path, b.Path) })
	want := []Info{
		{Path: dev + "/ttyACM0", USB: true, VendorID: "1a86", ProductID: "7523", ByPath: dev + "/serial/by-path/pci-usb-0:2"},
		{Path: dev + "/ttyS0"},
		{Path: dev + "/ttyUSB0", USB: true, VendorID: "0403", ProductID: "6001", Serial: "BED0001",
			Manufacturer: "Saltmarsh", Product: "Saltmarsh serial cable", ByID: dev + "/serial/by-id/usb-Saltmarsh"},
	}
	if !slices.Equal(got, want) {
		t.Errorf("got  %+v\nwant %+v", got, want)
	}
}

// During an unplug an attribute cannot be read; the other ports stay in the list.
func TestSP28ScanWhileOneIsPulled(t *testing.T) {
	sys, dev := tree(t)
	attribute := filepath.Join(sys, "devices/pci0000:00/usb1/1-1/idProduct")
	// A folder in its place cannot be read either, not even by root.
	if err := errors.Join(os.Remove(attribute), os.Mkdir(attribute, 0o755)); err != nil {
		t.Fatal(err)
	}
	got, err := scan(sys, dev)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range got {
		if p.Path == dev+"/ttyUSB0" {
			t.Errorf("the port that is being pulled is in the list: %+v", p)
		}
	}
	if len(got) != 2 {
		t.Errorf("got %+v", got)
	}
}

func TestScanWithoutSysfs(t *testing.T) {
	if _, err := scan(filepath.Join(t.TempDir(), "none"), "/dev"); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("got %v", err)
	}
}

func TestSP28LibraryListIsTriedAgain(t *testing.T) {
	trouble := errors.New("read .../idVendor: no such device")
	calls := 0
	got, err := fromLibrary(t.Context(), func() ([]*enumerator.PortDetails, error) {
		if calls++; calls < 3 {
			return nil, trouble
		}
		return []*enumerator.PortDetails{{}, nil, {Name: "COM3", IsUSB: true, VID: "0403", PID: "60AB", SerialNumber: "A1"}}, nil
	})
	want := Info{Path: "COM3", USB: true, VendorID: "0403", ProductID: "60ab", Serial: "A1", State: StateUnknown}
	if err != nil || calls != 3 || len(got) != 1 || got[0] != want {
		t.Errorf("after %d calls %+v, %v", calls, got, err)
	}
	failing := func() ([]*enumerator.PortDetails, error) { return nil, trouble }
	if _, err := fromLibrary(t.Context(), failing); !errors.Is(err, trouble) {
		t.Errorf("a list that always fails: %v", err)
	}
	if _, err := fromLibrary(soon(t), failing); kindOfOpen(err) != KindTimeout {
		t.Errorf("a list whose context ends: %v", err)
	}
}

// S-P26: a list opens no port, and shows the line of a built-in port as it was.
func TestSP26ListDisturbsNothing(t *testing.T) {
	before := modes(t)
	ports, err := List(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range ports {
		if p.Path == "" || p.State == "" {
			t.Errorf("%+v has no name or no state", p)
		}
	}
	for device, was := range before {
		if now := modes(t)[device]; now != was {
			t.Errorf("%s was changed from %+v to %+v", device, was, now)
		}
	}
	if len(before) == 0 {
		t.Log("this machine has no built-in port that this user may open")
	}
}

// modes reads how the built-in ports are set, where this user may.
func modes(t *testing.T) map[string]unix.Termios {
	t.Helper()
	found := map[string]unix.Termios{}
	names, err := filepath.Glob("/dev/ttyS*")
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range names {
		file, err := os.OpenFile(name, os.O_RDONLY|unix.O_NOCTTY|unix.O_NONBLOCK, 0)
		if err != nil {
			continue
		}
		if termios, err := unix.IoctlGetTermios(int(file.Fd()), getTermios); err == nil {
			found[name] = *termios
		}
		if err := file.Close(); err != nil {
			t.Error(err)
		}
	}
	return found
}
