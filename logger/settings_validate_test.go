package logger

import (
	"errors"
	"strings"
	"testing"
	"time"

	"soakline/checks"
	"soakline/device"
)

// goodSettings is a bench without a mistake, for tests to spoil.
func goodSettings() Settings {
	meter := device.CommandSet{Name: "meter", Asks: []device.Ask{{Measure: device.DCVoltage, Send: "READ?"}}}
	return Settings{
		Bench: "pier", Book: "pier.book", CommitEvery: time.Second, Listen: "127.0.0.1:8725",
		Instruments: []InstrumentSettings{{Name: "meter", Port: "/dev/ttyUSB0", Commands: meter}},
		Places: []Place{{Name: "left", Connections: []Connection{
			{TestPoint: "rail-5v", Instrument: "meter", Channel: "101"},
		}}},
		Sheets: []checks.Sheet{{Name: "s", Console: "Brambling 8", TestPoints: []checks.TestPoint{
			{Name: "rail-5v", Checks: []checks.Check{{Measure: device.DCVoltage}}},
		}}},
	}
}

func TestSettingsValidate(t *testing.T) {
	rows := []struct {
		name  string
		spoil func(*Settings)
		want  string // the paths, with a blank between
	}{
		{"good", func(*Settings) {}, ""},
		{"no name, no book", func(s *Settings) { s.Bench, s.Book = "", "" }, "bench book"},
		{"no interval", func(s *Settings) { s.CommitEvery = 0 }, "commit_every"},
		{"all addresses", func(s *Settings) { s.Listen = ":8725" }, "listen"},
		{"all addresses with a token", func(s *Settings) { s.Listen, s.Token = ":8725", "t" }, ""},
		{"by name of another machine", func(s *Settings) { s.Listen = "bench.example:8725" }, "listen"},
		{"IPv6 loopback", func(s *Settings) { s.Listen = "[::1]:8725" }, ""},
		{"second loopback address", func(s *Settings) { s.Listen = "127.9.9.9:0" }, ""},
		{"localhost", func(s *Settings) { s.Listen = "localhost:8725" }, ""},
		{"no port", func(s *Settings) { s.Listen = "127.0.0.1" }, "listen"},
		{"port too large", func(s *Settings) { s.Listen = "127.0.0.1:65536" }, "listen"},
		{"no instruments", func(s *Settings) { s.Instruments = nil }, "instruments"},
		{"instrument without name and port", func(s *Settings) {
			s.Instruments = append(s.Instruments, InstrumentSettings{})
		}, "instruments[1].name instruments[1].port"},
		{"instrument twice", func(s *Settings) {
			s.Instruments = append(s.Instruments, s.Instruments[0])
		}, "instruments[1].name instruments[1].port"},
		{"control character", func(s *Settings) { s.Places[0].Name = "le\nft" }, "places[0].name"},
		{"place twice", func(s *Settings) { s.Places = append(s.Places, s.Places[0]) }, "places[1].name"},
		{"place wired to nothing", func(s *Settings) { s.Places[0].Connections = nil }, "places[0].connections"},
		{"unknown instrument", func(s *Settings) { s.Places[0].Connections[0].Instrument = "metre" }, "places[0].connections[0].instrument"},
		{"unknown test point", func(s *Settings) { s.Places[0].Connections[0].TestPoint = "rail" }, "places[0].connections[0].test_point"},
		{"no test point", func(s *Settings) { s.Places[0].Connections[0].TestPoint = "" }, "places[0].connections[0].test_point"},
		{"wired twice", func(s *Settings) {
			s.Places[0].Connections = append(s.Places[0].Connections, s.Places[0].Connections[0])
		}, "places[0].connections[1].test_point"},
		{"measure not given", func(s *Settings) { s.Sheets[0].TestPoints[0].Checks[0].Measure = device.Rise }, "places[0].connections[0].test_point"},
		{"balance without a second channel", func(s *Settings) { stereo(s, nil, "meter") }, "places[0].connections[1].test_point"},
		{"balance over two instruments", func(s *Settings) { stereo(s, []string{"SOUR {channel}"}, "other") }, "places[0].connections[1].test_point"},
		{"balance of one instrument", func(s *Settings) { stereo(s, []string{"SOUR {channel}"}, "meter") }, ""},
		{"hum from a meter", func(s *Settings) {
			s.Sheets[0].TestPoints[0].Audio = &checks.AudioPlan{}
			s.Sheets[0].TestPoints[0].Checks[0].Measure = device.Hum
		}, "places[0].connections[0].test_point"},
		{"sheet twice", func(s *Settings) { s.Sheets = append(s.Sheets, s.Sheets[0]) }, "sheets[1]"},
		{"console twice", func(s *Settings) {
			s.Sheets = append(s.Sheets, checks.Sheet{Name: "t", Console: "Brambling 8"})
		}, "sheets[1]"},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			s := goodSettings()
			row.spoil(&s)
			if got := strings.Join(paths(t, s.Validate()), " "); got != row.want {
				t.Errorf("paths %q, want %q", got, row.want)
			}
		})
	}
}

// stereo gives the console two audio outputs that are to be alike.
func stereo(s *Settings, beside []string, right string) {
	s.Instruments[0].Commands.AudioCapture = &device.CaptureAsk{Data: "DATA?", Beside: beside}
	another := s.Instruments[0]
	another.Name, another.Port = "other", "/dev/ttyUSB1"
	s.Instruments = append(s.Instruments, another)
	s.Sheets[0].TestPoints = append(s.Sheets[0].TestPoints,
		checks.TestPoint{Name: "left", Audio: &checks.AudioPlan{Beside: "right"}, Checks: []checks.Check{{Measure: device.ChannelBalance}}},
		checks.TestPoint{Name: "right", Audio: &checks.AudioPlan{}, Checks: []checks.Check{{Measure: device.Hum}}})
	s.Places[0].Connections = append(s.Places[0].Connections,
		Connection{TestPoint: "left", Instrument: "meter", Channel: "5"}, Connection{TestPoint: "right", Instrument: right, Channel: "6"})
}

func paths(t *testing.T, err error) []string {
	t.Helper()
	if err == nil {
		return nil
	}
	var all []string
	for _, e := range err.(interface{ Unwrap() []error }).Unwrap() {
		at, ok := errors.AsType[*checks.PathError](e)
		if !ok {
			t.Fatalf("%v has no path", e)
		}
		all = append(all, at.Path)
	}
	return all
}

func TestPortSpellings(t *testing.T) {
	rows := []struct {
		port string
		ok   bool
	}{
		{"/dev/ttyUSB0", true}, {"COM3", true}, {"/dev/serial/by-id/usb-x:1.0", true},
		{"tcp://localhost:5025", true}, {"tcp://[::1]:5025", true}, {"tcp://localhost", false}, {"tcp:localhost:5025", false},
		{"tcp://:5025", false}, {"usb:0403:6001", true}, {"usb:0403:6001:A10023", true}, {"usb:1A86:7523:with:colon", true},
		{"usb:0403", false}, {"usb:403:6001", false}, {"usb:04g3:6001", false},
		{"idn:Saltmarsh", true}, {"idn:", false}, {"", false}, {" ", false},
	}
	for _, row := range rows {
		s := goodSettings()
		s.Instruments[0].Port = row.port
		if err := s.Validate(); (err == nil) != row.ok {
			t.Errorf("port %q: %v, want right: %v", row.port, err, row.ok)
		}
	}
}
