package main

import (
	"strings"
	"testing"

	"soakline/config"
	"soakline/device/port"
	"soakline/logger"
)

// TestPortNames: names that go by the order of plugging are told, with what to write
// instead; those that last are not.
func TestPortNames(t *testing.T) {
	d := &doctor{bench: config.Bench{Settings: logger.Settings{}}}
	for _, name := range []string{"/dev/ttyUSB0", "/dev/ttyACM12", "/dev/ttyS0", "/dev/serial/by-id/usb-Saltmarsh", "usb:0403:6001:BED0001", "tcp://127.0.0.1:1", "idn:M6", "COM3"} {
		d.bench.Instruments = append(d.bench.Instruments, logger.InstrumentSettings{Name: name, Port: name})
	}
	d.lookAtPortNames(t.Context())
	var about []string
	for _, f := range d.found {
		about = append(about, f.About)
		if f.Condition != mind || f.Advice == "" || !strings.Contains(f.Text, "whichever adapter comes first") {
			t.Errorf("%+v", f)
		}
	}
	if got := strings.Join(about, ", "); got != "instrument /dev/ttyUSB0, instrument /dev/ttyACM12" {
		t.Errorf("told of %s", got)
	}
	ports := []port.Info{
		{Path: "/dev/ttyUSB0", USB: true, VendorID: "0403", ProductID: "6001", Serial: "BED0001"},
		{Path: "/dev/ttyUSB1", USB: true, VendorID: "0403", ProductID: "6001", ByPath: "/dev/serial/by-path/one"},
		{Path: "/dev/ttyUSB2"},
	}
	for name, want := range map[string]string{"/dev/ttyUSB0": `"usb:0403:6001:BED0001"`, "/dev/ttyUSB1": `"/dev/serial/by-path/one"`, "/dev/ttyUSB2": "idn:", "/dev/ttyUSB3": "soakline ports"} {
		if got := lastingName(name, ports); !strings.Contains(got, want) {
			t.Errorf("%s: %q does not say %s", name, got, want)
		}
	}
}
