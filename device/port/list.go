package port

import (
	"cmp"
	"context"
	"slices"
	"strings"
)

// Info is what can be known of a port without opening it.
type Info struct {
	// Path is the device ("/dev/ttyUSB0", "COM3").
	Path string
	// USB tells an adapter from a port of the machine.
	USB bool
	// VendorID and ProductID are four lower-case hexadecimal digits.
	VendorID, ProductID string
	// Serial, Manufacturer and Product are what the adapter says of itself; empty
	// where it says nothing.
	Serial, Manufacturer, Product string
	// ByID and ByPath are the links that follow the adapter and the socket.
	ByID, ByPath string
	State        State
	// Holder is who has the port open, where this user may see that.
	Holder string
}

// State is whether a port could be opened now.
type State string

const (
	// StateFree is a port that nobody is seen to hold. A plain user sees his own
	// processes and those that lock the device.
	StateFree State = "free"
	// StateBusy is a port that somebody holds.
	StateBusy State = "busy"
	// StateDenied is a port that this user may not open.
	StateDenied State = "denied"
	// StateUnknown is a port of which the system tells nothing without opening it.
	StateUnknown State = "unknown"
)

// Address gives the address that finds this port again: by the adapter's serial
// number wherever it is plugged in, else by its socket, else by its name. Of two
// adapters with one serial number the first opening tells.
func (i Info) Address() string {
	if i.USB && i.Serial != "" {
		return Address{VendorID: i.VendorID, ProductID: i.ProductID, Serial: i.Serial}.String()
	}
	return cmp.Or(i.ByPath, i.Path)
}

// List gives the serial ports of this machine, by name. No port is opened on
// Linux, because opening one resets its line. Ports that come or go meanwhile are
// left out; only a failure that lasts is an error.
func List(ctx context.Context) ([]Info, error) {
	ports, err := list(ctx)
	if err != nil {
		kind, ok := kindOfContext(err)
		if !ok {
			kind = KindFailed
		}
		return nil, &Error{Op: "list", Port: "serial ports", Kind: kind, Err: err}
	}
	slices.SortFunc(ports, func(a, b Info) int { return compareNames(a.Path, b.Path) })
	return ports, nil
}

// Candidates gives the ports that are worth trying when an instrument is looked
// for, the free ones first. Ports built into the machine are among them only if
// there is nothing else: mostly nothing is connected to them, and trying one
// changes its line.
func Candidates(ctx context.Context) ([]Info, error) {
	ports, err := List(ctx)
	if err != nil {
		return nil, err
	}
	return worthTrying(ports), nil
}

func worthTrying(ports []Info) []Info {
	found := slices.DeleteFunc(slices.Clone(ports), Info.builtIn)
	if len(found) == 0 {
		found = slices.Clone(ports)
	}
	rank := map[State]int{StateFree: 0, StateUnknown: 0, StateBusy: 1, StateDenied: 2}
	slices.SortStableFunc(found, func(a, b Info) int { return cmp.Compare(rank[a.State], rank[b.State]) })
	return found
}

func (i Info) builtIn() bool { return strings.HasPrefix(i.Path, "/dev/ttyS") }

// compareNames orders ttyUSB2 before ttyUSB10.
func compareNames(a, b string) int {
	stem := func(s string) string { return strings.TrimRight(s, "0123456789") }
	return cmp.Or(
		strings.Compare(stem(a), stem(b)),
		cmp.Compare(len(a), len(b)),
		strings.Compare(a, b),
	)
}
