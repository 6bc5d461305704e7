package logger

import (
	"errors"
	"fmt"
	"net"
	"slices"
	"strings"
	"time"

	"soakline/checks"
	"soakline/device"
)

// Validate says everything that is wrong with the bench itself, joined; each
// error is a *checks.PathError whose path is spelled as in bench.yaml. Test
// sheets and command sets have a Validate of their own.
func (s Settings) Validate() error {
	v := &validation{settings: s}
	v.scalars()
	v.instruments()
	v.places()
	v.outputs()
	v.sheets()
	return errors.Join(v.all...)
}

type validation struct {
	settings Settings
	all      []error
}

func (v *validation) add(path string, err error) {
	v.all = append(v.all, &checks.PathError{Path: path, Err: err})
}

func (v *validation) addf(path, format string, args ...any) {
	v.add(path, fmt.Errorf(format, args...))
}

func (v *validation) scalars() {
	if v.settings.Bench == "" {
		v.addf("bench", "the bench has no name")
	}
	if v.settings.Book == "" {
		v.addf("book", "the book has no path")
	}
	if v.settings.CommitEvery <= 0 {
		v.addf("commit_every", "%s is no interval to commit at", v.settings.CommitEvery)
	}
	if step := v.settings.TimeStep; step != 0 && (step < time.Microsecond || step > time.Second || time.Second%step != 0) {
		v.addf("book.time_step", "%s is no part of a second from 1us to 1s", step)
	}
	if n := v.settings.Waiting; n != 0 && (n < fewestWaiting || n > mostWaiting) {
		v.addf("book.waiting", "%d readings are not from %d to %d", n, fewestWaiting, mostWaiting)
	}
	v.listen(v.settings.Listen)
}

// How many readings may wait for the book: some seconds of a busy bench, and a
// gigabyte.
const fewestWaiting, mostWaiting = 1000, 10_000_000

// listen refuses an address that others can reach unless a token keeps them out.
func (v *validation) listen(address string) {
	host, port, err := net.SplitHostPort(address)
	if err != nil || port == "" {
		v.addf("listen", "%q is not an address with a port, as in 127.0.0.1:8725", address)
		return
	}
	if _, err := net.LookupPort("tcp", port); err != nil {
		v.addf("listen", "%q is not a port number", port)
	}
	if v.settings.Token == "" && !Loopback(host) {
		v.addf("listen", "%s can be reached from outside this machine: give a token (token_file) or listen on 127.0.0.1", address)
	}
}

// Loopback tells whether a listening host can be reached from this machine only.
// An empty host means every address and is not loopback.
func Loopback(host string) bool {
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}

func (v *validation) instruments() {
	if len(v.settings.Instruments) == 0 {
		v.addf("instruments", "the bench has no instruments")
	}
	names, ports := map[string]int{}, map[string]int{}
	for i, in := range v.settings.Instruments {
		at := fmt.Sprintf("instruments[%d].", i)
		v.name(at+"name", "instrument", in.Name, "instruments", i, names)
		v.port(at+"port", in.Port)
		if !in.CalibrationDue.IsZero() && in.CalibrationDue.Before(in.Calibrated) {
			v.addf(at+"calibration_due", "%s is before it was calibrated", in.CalibrationDue.Format(time.DateOnly))
		}
		if first, twice := ports[in.Port]; twice && in.Port != "" {
			v.addf(at+"port", "%s is taken already by instruments[%d]", in.Port, first)
		}
		ports[in.Port] = i
	}
}

// name reports a name that is missing, unprintable or given twice in its list.
func (v *validation) name(path, kind, name, list string, i int, seen map[string]int) {
	if name == "" {
		v.addf(path, "the %s has no name", kind)
		return
	}
	if strings.ContainsFunc(name, func(r rune) bool { return r < ' ' || r == 0x7f }) {
		v.addf(path, "%q holds a control character", name)
	}
	if first, twice := seen[name]; twice {
		v.addf(path, "%q names %s[%d] already", name, list, first)
		return
	}
	seen[name] = i
}

// port reports what cannot be a port: see InstrumentSettings.Port.
func (v *validation) port(path, port string) {
	kind, rest, _ := strings.Cut(port, ":")
	switch {
	case strings.TrimSpace(port) == "":
		v.addf(path, "the instrument has no port")
	case kind == "tcp":
		if host, number, err := net.SplitHostPort(strings.TrimPrefix(rest, "//")); err != nil || host == "" || number == "" || !strings.HasPrefix(rest, "//") {
			v.addf(path, "%q is not tcp://host:port", port)
		}
	case kind == "usb":
		if ids := strings.SplitN(rest, ":", 3); len(ids) < 2 || !usbID(ids[0]) || !usbID(ids[1]) {
			v.addf(path, "%q is not usb:VID:PID or usb:VID:PID:SERIAL with four hexadecimal digits each", port)
		}
	case kind == "idn" && strings.TrimSpace(rest) == "":
		v.addf(path, "%q does not say which *IDN? answer to look for", port)
	}
}

// usbID tells a USB vendor or product identity: four hexadecimal digits.
func usbID(s string) bool {
	return len(s) == 4 && strings.Trim(strings.ToLower(s), "0123456789abcdef") == ""
}

func (v *validation) places() {
	names := map[string]int{}
	for i, p := range v.settings.Places {
		at := fmt.Sprintf("places[%d].", i)
		v.name(at+"name", "place", p.Name, "places", i, names)
		if len(p.Connections) == 0 {
			v.addf(at+"connections", "place %q is wired to nothing", p.Name)
		}
		v.balances(at, p)
		wired := map[checks.TestPointName]int{}
		for j, c := range p.Connections {
			at := fmt.Sprintf("%sconnections[%d].", at, j)
			v.connection(at, c)
			if first, twice := wired[c.TestPoint]; twice && c.TestPoint != "" {
				v.addf(at+"test_point", "%q is wired already by connections[%d]", c.TestPoint, first)
			} else {
				wired[c.TestPoint] = j
			}
		}
	}
}

func (v *validation) connection(at string, c Connection) {
	if c.TestPoint == "" {
		v.addf(at+"test_point", "the connection names no test point")
	}
	i := slices.IndexFunc(v.settings.Instruments, func(in InstrumentSettings) bool { return in.Name == c.Instrument })
	if i < 0 && len(v.settings.Instruments) > 0 {
		v.add(at+"instrument", &device.NameError{Kind: "instrument", Name: c.Instrument, Known: v.instrumentNames()})
	}
	var known []string
	found := c.TestPoint == ""
	for _, sheet := range v.settings.Sheets {
		for _, point := range sheet.TestPoints {
			known = append(known, string(point.Name))
			if point.Name != c.TestPoint {
				continue
			}
			found = true
			if i >= 0 {
				v.able(at+"test_point", v.settings.Instruments[i], sheet, point)
			}
		}
	}
	if !found {
		slices.Sort(known)
		v.add(at+"test_point", &device.NameError{Kind: TestPointKind, Name: string(c.TestPoint), Known: slices.Compact(known)})
	}
}

// TestPointKind is what the device.NameError of a connection says was to be named.
const TestPointKind = "test point in any sheet"

// NotGivenError is a test point wired to an instrument that cannot give what a
// sheet checks there.
type NotGivenError struct {
	Sheet                  string
	Measure                device.Measure
	TestPoint              checks.TestPointName
	Instrument, CommandSet string
}

func (e *NotGivenError) Error() string {
	return fmt.Sprintf("sheet %q checks %s at %s, which instrument %q (command set %q) does not give",
		e.Sheet, e.Measure, e.TestPoint, e.Instrument, e.CommandSet)
}

// able reports the measures of a test point that its instrument cannot give.
func (v *validation) able(path string, in InstrumentSettings, sheet checks.Sheet, point checks.TestPoint) {
	if c := sheet.Soak.Cycles; c != nil && c.TestPoint == point.Name && in.Commands.Output == nil {
		v.addf(path, "sheet %q switches the unit off and on at %s, and instrument %q (command set %q) has no output to switch", sheet.Name, point.Name, in.Name, in.Commands.Name)
	}
	for _, c := range point.Checks {
		gives := in.Commands.Gives
		if point.Audio != nil {
			gives = in.Commands.GivesOfAudio
		}
		if point.Reservoir != nil {
			gives = in.Commands.GivesOfRipple
		}
		if c.Measure.Known() && !gives(c.Measure) {
			v.add(path, &NotGivenError{
				Sheet: sheet.Name, Measure: c.Measure, TestPoint: point.Name,
				Instrument: in.Name, CommandSet: in.Commands.Name,
			})
		}
	}
}

func (v *validation) instrumentNames() []string {
	var all []string
	for _, in := range v.settings.Instruments {
		all = append(all, in.Name)
	}
	return all
}

func (v *validation) sheets() {
	names, consoles := map[string]int{}, map[checks.ConsoleName]int{}
	for i, s := range v.settings.Sheets {
		at := fmt.Sprintf("sheets[%d]", i)
		if first, twice := names[s.Name]; twice && s.Name != "" {
			v.addf(at, "sheet %q is there already as sheets[%d]", s.Name, first)
		} else if first, twice := consoles[s.Console]; twice && s.Console != "" {
			v.addf(at, "console %q has a sheet already, sheets[%d]: one sheet a console", s.Console, first)
		}
		names[s.Name], consoles[s.Console] = i, i
	}
}
