package simbench

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
)

// mistakes collects what is wrong, each with the path of its key.
type mistakes struct{ found []error }

// add notes one mistake at the path of a key.
func (m *mistakes) add(path, format string, args ...any) {
	m.found = append(m.found, fmt.Errorf("%s: "+format, append([]any{path}, args...)...))
}

// between adds a mistake unless low <= v <= high; a number that is none is one.
func (m *mistakes) between(path string, v, low, high float64) {
	if !(v >= low && v <= high) {
		m.add(path, "%g is not between %g and %g", v, low, high)
	}
}

// oneOf adds a mistake unless v is one of the allowed words.
func (m *mistakes) oneOf(path, v string, allowed ...string) {
	if !slices.Contains(allowed, v) {
		m.add(path, "%q is none of %s", v, strings.Join(allowed, ", "))
	}
}

// name adds a mistake unless v can stand as one word of a control line and has
// not been seen before.
func (m *mistakes) name(path, v string, seen map[string]bool) {
	switch {
	case v == "":
		m.add(path, "missing")
	case strings.ContainsAny(v, " \t\r\n\""):
		m.add(path, "%q has a space or a quote in it", v)
	case seen[v]:
		m.add(path, "%q is there twice", v)
	}
	seen[v] = true
}

// Validate returns every mistake, joined, each with the path of its key.
func (c Config) Validate() error {
	var m mistakes
	names := map[string]bool{}
	points := map[string]map[string]bool{}
	for i, u := range c.Units {
		path := fmt.Sprintf("units[%d]", i)
		m.name(path+".asset", u.Asset, names)
		points[u.Asset] = m.unit(path, u)
	}
	if len(c.Instruments) == 0 {
		m.add("instruments", "there is none")
	}
	ports := map[string]bool{}
	for i, in := range c.Instruments {
		path := fmt.Sprintf("instruments[%d]", i)
		m.name(path+".name", in.Name, names)
		m.instrument(path, in)
		m.port(path+".port", in.Port, ports)
		m.wiring(path, in, points)
		if in.Supply != nil && in.Supply.Feeds != "" && points[in.Supply.Feeds] == nil {
			m.add(path+".supply.feeds", "there is no unit %q", in.Supply.Feeds)
		}
	}
	return errors.Join(m.found...)
}

// port checks a place: a path that is taken once, or a loopback address; nothing
// of this bench is reachable from outside the machine.
func (m *mistakes) port(path, port string, seen map[string]bool) {
	free := strings.HasSuffix(port, ":0")
	switch {
	case port == "":
		m.add(path, "missing")
	case seen[port] && !free:
		m.add(path, "%q is taken twice", port)
	case !isAddress(port) && !ptySupported:
		m.add(path, "%q: this system has no pseudo-terminals; use 127.0.0.1:0", port)
	case isAddress(port) && !isLoopback(port):
		m.add(path, "%q is not a loopback address", port)
	}
	seen[port] = true
}

// wiring checks that every channel is wired once, to a test point that exists.
func (m *mistakes) wiring(path string, in InstrumentConfig, points map[string]map[string]bool) {
	channels := map[int]bool{}
	for i, w := range in.Wiring {
		at := fmt.Sprintf("%s.wiring[%d]", path, i)
		if channels[w.Channel] {
			m.add(at+".channel", "%d is wired twice", w.Channel)
		}
		channels[w.Channel] = true
		m.between(at+".channel", float64(w.Channel), 1, 9999)
		m.between(at+".probe", w.Probe, 0, 1000)
		known, ok := points[w.Unit]
		if !ok {
			m.add(at+".unit", "there is no unit %q", w.Unit)
		} else if !known[w.TestPoint] {
			m.add(at+".test_point", "unit %s has no test point %q", w.Unit, w.TestPoint)
		}
	}
}

// faults checks what can be told before the bench runs; whether a fault exists is
// told when its time comes.
func (m *mistakes) faults(path string, faults []FaultConfig) {
	for i, f := range faults {
		at := fmt.Sprintf("%s.faults[%d]", path, i)
		m.between(at+".after_s", f.AfterS, 0, math.MaxInt32)
		if f.Name == "" {
			m.add(at+".name", "missing")
		}
	}
}
