package logger

import (
	"fmt"

	"soakline/checks"
)

// outputs refuses whatever is wired to an output that a soak switches besides the test
// point that it is switched by: it would be switched with it.
func (v *validation) outputs() {
	type wired struct {
		place, at  string
		commanding bool
	}
	commands := map[checks.TestPointName]bool{}
	for _, sheet := range v.settings.Sheets {
		if c := sheet.Soak.Cycles; c != nil {
			commands[c.TestPoint] = true
		}
	}
	first := map[input]wired{}
	for i, place := range v.settings.Places {
		for j, c := range place.Connections {
			at := fmt.Sprintf("places[%d].connections[%d]", i, j)
			this := wired{place: place.Name, at: at, commanding: commands[c.TestPoint]}
			before, twice := first[input{c.Instrument, c.Channel}]
			if !twice {
				first[input{c.Instrument, c.Channel}] = this
				continue
			}
			if this.commanding || before.commanding {
				v.addf(at+".instrument", "this output of %q is wired at %s (place %q) already, and a sheet's power_cycles switch it: what else hangs on it would be switched as well",
					c.Instrument, before.at, before.place)
			}
		}
	}
}
