package port

import (
	"strings"
	"testing"
)

func TestParseAddress(t *testing.T) {
	for text, want := range map[string]Address{
		"/dev/ttyUSB0":          {Path: "/dev/ttyUSB0"},
		"/dev/serial/by-id/a:b": {Path: "/dev/serial/by-id/a:b"},
		"COM3":                  {Path: "COM3"},
		`\\.\COM12`:             {Path: `\\.\COM12`},
		"usb:0403:6001":         {VendorID: "0403", ProductID: "6001"},
		"usb:1A86:7523":         {VendorID: "1a86", ProductID: "7523"},
		"usb:0403:6001:A1:b2":   {VendorID: "0403", ProductID: "6001", Serial: "A1:b2"},
		"tcp://bench:4001":      {Host: "bench", Service: 4001},
		"tcp://[::1]:65535":     {Host: "::1", Service: 65535},
	} {
		got, err := ParseAddress(text)
		if err != nil || got != want {
			t.Errorf("ParseAddress(%q) = %+v, %v, want %+v", text, got, err, want)
		}
	}
}

func TestParseAddressWrong(t *testing.T) {
	for text, want := range map[string]string{
		"":                   "full path",
		"ttyUSB0":            "full path",
		"COM0":               "full path",
		"idn:meter":          "full path",
		"/dev/tty\x00":       "zero byte",
		"usb:":               "four hexadecimal digits",
		"usb:0403":           "four hexadecimal digits",
		"usb:403:6001":       "four hexadecimal digits",
		"usb:0403:600g":      "four hexadecimal digits",
		"usb:0403:6001:":     "serial number",
		"tcp://bench":        "host:port",
		"tcp://:4001":        "not a host",
		"tcp://bench:0":      "1 to 65535",
		"tcp://bench:65536":  "1 to 65535",
		"tcp://bench:http":   "1 to 65535",
		"tcp://::1:4001":     "host:port",
		"tcp://bench/x:4001": "not a host",
	} {
		_, err := ParseAddress(text)
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("ParseAddress(%q): %v, want an error that says %q", text, err, want)
		}
	}
}

// FuzzParseAddress: what parses prints, and what is printed parses to the same.
func FuzzParseAddress(f *testing.F) {
	for _, seed := range []string{"/dev/ttyUSB0", "COM3", `\\.\COM12`, "usb:0403:6001:A1", "tcp://[::1]:4001", "tcp://a:1", "usb::", ""} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		a, err := ParseAddress(text)
		if err != nil {
			return
		}
		set := 0
		for _, s := range []string{a.Path, a.VendorID, a.Host} {
			if s != "" {
				set++
			}
		}
		if set != 1 {
			t.Fatalf("%q parses to %+v, which is not one place", text, a)
		}
		again, err := ParseAddress(a.String())
		if err != nil || again != a {
			t.Fatalf("%q -> %+v -> %q -> %+v, %v", text, a, a.String(), again, err)
		}
	})
}
