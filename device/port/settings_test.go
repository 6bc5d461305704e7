package port

import (
	"strings"
	"testing"
)

var plain = Settings{Baud: 115200, DataBits: 8, Parity: "none", StopBits: "1", Flow: "none"}

func change(f func(*Settings)) Settings {
	s := plain
	f(&s)
	return s
}

// Drivers accept nearly any mode without a word (measured, S-P23, S-P25), so what
// they take is no source: the frame is that of a UART, 5 to 8 data bits.
func TestSP23SettingsValidate(t *testing.T) {
	for _, c := range []struct {
		name string
		s    Settings
		want []string // what the error names; none for good settings
	}{
		{"usual", plain, nil},
		{"slowest", change(func(s *Settings) { s.Baud = 50 }), nil},
		{"just below", change(func(s *Settings) { s.Baud = 49 }), []string{"baud: 49"}},
		{"fastest", change(func(s *Settings) { s.Baud = 12_000_000 }), nil},
		{"just above", change(func(s *Settings) { s.Baud = 12_000_001 }), []string{"baud:"}},
		{"one bit per second, which a pty takes", change(func(s *Settings) { s.Baud = 1 }), []string{"baud: 1"}},
		{"minus one, which a pty takes", change(func(s *Settings) { s.Baud = -1 }), []string{"baud: -1"}},
		{"5 bits", change(func(s *Settings) { s.DataBits = 5 }), nil},
		{"4 bits", change(func(s *Settings) { s.DataBits = 4 }), []string{"data_bits: 4"}},
		{"9 bits", change(func(s *Settings) { s.DataBits = 9 }), []string{"data_bits: 9"}},
		{"parity in capitals", change(func(s *Settings) { s.Parity = "Even" }), []string{`parity: "Even"`}},
		{"3 stop bits", change(func(s *Settings) { s.StopBits = "3" }), []string{`stop_bits: "3"`}},
		{"xon", change(func(s *Settings) { s.Flow = "xon-xoff" }), []string{`flow: "xon-xoff"`}},
		{"nothing set", Settings{}, []string{"baud:", "data_bits:", "parity:", "stop_bits:", "flow:"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			err := c.s.Validate()
			if (err != nil) != (c.want != nil) {
				t.Fatalf("Validate() = %v", err)
			}
			for _, want := range c.want {
				if !strings.Contains(err.Error(), want) {
					t.Errorf("%q does not say %q", err, want)
				}
			}
		})
	}
}

func TestSettingsString(t *testing.T) {
	for want, s := range map[string]Settings{
		"115200 8N1":       plain,
		"9600 7E2 rts-cts": {Baud: 9600, DataBits: 7, Parity: "even", StopBits: "2", Flow: "rts-cts"},
		"0 0?":             {},
	} {
		if got := s.String(); got != want {
			t.Errorf("%+v reads %q, want %q", s, got, want)
		}
	}
}
