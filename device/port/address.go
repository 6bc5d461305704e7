package port

import (
	"fmt"
	"net"
	"regexp"
	"strconv"
	"strings"
)

// Address says where a port is, without opening it. Exactly one of Path, VendorID
// and Host is set.
type Address struct {
	// Path is a device node or a link to one ("/dev/ttyUSB0"), or a name of
	// Windows ("COM3").
	Path string
	// VendorID and ProductID are four lower-case hexadecimal digits each.
	VendorID, ProductID string
	// Serial is the adapter's serial number; empty takes any.
	Serial string
	// Host and Service are a serial server and its port number.
	Host    string
	Service int
}

var (
	windowsName = regexp.MustCompile(`^(?i:COM[1-9][0-9]{0,3}|\\\\\.\\[^\\/\x00]+)$`)
	usbID       = regexp.MustCompile(`^[0-9a-fA-F]{4}$`)
)

// ParseAddress reads an address as a person writes it:
//
//	/dev/ttyUSB0  /dev/serial/by-id/…  COM3    a device or a link to it
//	usb:0403:6001  usb:0403:6001:A10023        an adapter by vendor, product, serial number
//	tcp://host:4001  tcp://[::1]:4001          a serial server
//
// The error says which form was meant and what is wrong with it.
func ParseAddress(text string) (Address, error) {
	switch {
	case strings.HasPrefix(text, "usb:"):
		return parseUSB(text)
	case strings.HasPrefix(text, "tcp://"):
		return parseTCP(text)
	case strings.ContainsRune(text, 0):
		return Address{}, fmt.Errorf("address %q: a path holds no zero byte", text)
	case strings.HasPrefix(text, "/"), windowsName.MatchString(text):
		return Address{Path: text}, nil
	}
	return Address{}, fmt.Errorf("address %q: write a full path (/dev/ttyUSB0), COM3, usb:VID:PID[:SERIAL] or tcp://host:port", text)
}

func parseUSB(text string) (Address, error) {
	parts := strings.SplitN(strings.TrimPrefix(text, "usb:"), ":", 3)
	if len(parts) < 2 || !usbID.MatchString(parts[0]) || !usbID.MatchString(parts[1]) {
		return Address{}, fmt.Errorf("address %q: usb: wants vendor and product as four hexadecimal digits each, as in usb:0403:6001", text)
	}
	a := Address{VendorID: strings.ToLower(parts[0]), ProductID: strings.ToLower(parts[1])}
	if len(parts) == 3 {
		if parts[2] == "" {
			return Address{}, fmt.Errorf("address %q: the serial number behind the last colon is missing", text)
		}
		a.Serial = parts[2]
	}
	return a, nil
}

func parseTCP(text string) (Address, error) {
	host, service, err := net.SplitHostPort(strings.TrimPrefix(text, "tcp://"))
	if err != nil {
		return Address{}, fmt.Errorf("address %q: tcp:// wants host:port: %w", text, err)
	}
	number, err := strconv.ParseUint(service, 10, 16)
	if err != nil || number == 0 {
		return Address{}, fmt.Errorf("address %q: port %q is not a number from 1 to 65535", text, service)
	}
	if host == "" || strings.ContainsAny(host, "/ \x00") {
		return Address{}, fmt.Errorf("address %q: %q is not a host", text, host)
	}
	return Address{Host: host, Service: int(number)}, nil
}

// String gives the address in the form that ParseAddress reads.
func (a Address) String() string {
	switch {
	case a.Host != "":
		return "tcp://" + a.hostPort()
	case a.VendorID != "" && a.Serial != "":
		return "usb:" + a.VendorID + ":" + a.ProductID + ":" + a.Serial
	case a.VendorID != "":
		return "usb:" + a.VendorID + ":" + a.ProductID
	}
	return a.Path
}

func (a Address) hostPort() string {
	return net.JoinHostPort(a.Host, strconv.Itoa(a.Service))
}
