package main

import (
	"context"
	"regexp"

	"soakline/device/port"
)

// fleetingName is a name that the kernel gives to whichever adapter comes first.
var fleetingName = regexp.MustCompile(`^/dev/tty(USB|ACM)[0-9]+$`)

// lookAtPortNames tells of instruments whose port is named by the order of plugging.
// While the program runs, another instrument that answers there is refused; one that
// was there before it started is believed.
func (d *doctor) lookAtPortNames(ctx context.Context) {
	ports, err := port.List(ctx)
	if err != nil {
		ports = nil // the name is no better for it; who is there is asked elsewhere
	}
	for _, instrument := range d.bench.Instruments {
		if fleetingName.MatchString(instrument.Port) {
			d.add("instrument "+instrument.Name, mind, lastingName(instrument.Port, ports),
				"%s is the name of whichever adapter comes first: after the next start it may be another", instrument.Port)
		}
	}
}

// lastingName says what to write into bench.yaml instead.
func lastingName(name string, ports []port.Info) string {
	for _, p := range ports {
		if address := p.Address(); p.Path == name && address != name {
			return "write port: \"" + address + "\", which follows the adapter or its socket"
		}
	}
	return "write the address that soakline ports shows beside \"always\", or idn: with a part of its *IDN? answer"
}
