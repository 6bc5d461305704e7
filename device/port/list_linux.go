package port

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"go.bug.st/serial/enumerator"
	"golang.org/x/sys/unix"
)

const seesUSB = true

// enumerate reads what the kernel exports (Documentation/ABI, sysfs-class-tty and
// sysfs-bus-usb). The library's enumerator opens every ttyS port and resets it,
// and fails as a whole when one adapter is pulled, so it serves only where there
// is no sysfs.
func enumerate(ctx context.Context) ([]Info, error) {
	ports, err := scan("/sys", "/dev")
	if errors.Is(err, fs.ErrNotExist) {
		return fromLibrary(ctx, func() ([]*enumerator.PortDetails, error) {
			return enumerator.GetDetailedPortsList()
		})
	}
	if err == nil {
		err = ctx.Err()
	}
	return ports, err
}

// list is enumerate with how each port stands, for which every process of the machine
// is looked into.
func list(ctx context.Context) ([]Info, error) {
	ports, err := enumerate(ctx)
	if err != nil {
		return nil, err
	}
	held := holders()
	for i := range ports {
		if ports[i].State == "" {
			ports[i].State, ports[i].Holder = stateOf(ports[i].Path, held)
		}
	}
	return ports, nil
}

func stateOf(path string, held map[string]string) (State, string) {
	holder := holderOf(path, held)
	switch {
	case unix.Access(path, unix.R_OK|unix.W_OK) != nil:
		return StateDenied, holder
	case holder != "":
		return StateBusy, holder
	}
	return StateFree, ""
}

// scan finds the terminals that have a device behind them, with what their USB
// adapter says. A port that goes away meanwhile is left out.
func scan(sys, dev string) ([]Info, error) {
	class := filepath.Join(sys, "class", "tty")
	entries, err := os.ReadDir(class)
	if err != nil {
		return nil, err
	}
	byID, byPath := links(filepath.Join(dev, "serial", "by-id")), links(filepath.Join(dev, "serial", "by-path"))
	var ports []Info
	for _, entry := range entries {
		device, err := filepath.EvalSymlinks(filepath.Join(class, entry.Name(), "device"))
		if err != nil || placeholder(filepath.Join(class, entry.Name())) {
			continue
		}
		info := Info{Path: filepath.Join(dev, entry.Name())}
		info.ByID, info.ByPath = byID[info.Path], byPath[info.Path]
		if err := info.identify(sys, device); err == nil {
			ports = append(ports, info)
		}
	}
	return ports, nil
}

// placeholder tells the ttyS names that the kernel reserves without a chip behind
// them: their type is 0, unknown.
func placeholder(tty string) bool {
	kind, err := readWord(filepath.Join(tty, "type"))
	return err == nil && kind == "0"
}

// identify climbs from the terminal's device to the USB device it belongs to.
func (i *Info) identify(sys, device string) error {
	for dir := device; strings.HasPrefix(dir, sys) && dir != sys; dir = filepath.Dir(dir) {
		vendor, err := readWord(filepath.Join(dir, "idVendor"))
		if err != nil {
			return err
		}
		if vendor == "" {
			continue
		}
		i.USB, i.VendorID = true, strings.ToLower(vendor)
		if i.ProductID, err = readWord(filepath.Join(dir, "idProduct")); err != nil {
			return err
		}
		i.ProductID = strings.ToLower(i.ProductID)
		for name, to := range map[string]*string{"serial": &i.Serial, "manufacturer": &i.Manufacturer, "product": &i.Product} {
			if *to, err = readWord(filepath.Join(dir, name)); err != nil {
				return err
			}
		}
		return nil
	}
	return nil
}

// readWord gives an attribute's text, empty if there is no such attribute.
func readWord(path string) (string, error) {
	text, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return "", nil
	}
	return strings.TrimSpace(string(text)), err
}

// links maps devices to the links in dir. Links that udev is just renaming (".#")
// or that lead nowhere any more are not there yet, or no longer.
func links(dir string) map[string]string {
	found := map[string]string{}
	entries, err := os.ReadDir(dir)
	if err != nil {
		// No adapter is plugged in, or no udev runs here.
		return found
	}
	for _, entry := range entries {
		link := filepath.Join(dir, entry.Name())
		if device, err := filepath.EvalSymlinks(link); err == nil && !strings.HasPrefix(entry.Name(), ".") {
			found[device] = link
		}
	}
	return found
}
