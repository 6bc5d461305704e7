package logger

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"soakline/checks"
	"soakline/device"
	"soakline/logger/book"
)

// freePlace returns the place of that name, or the first that is free and wired
// for every test point of the sheet.
func (b *Bench) freePlace(ctx context.Context, name string, sheet checks.Sheet) (Place, error) {
	taken := map[string]checks.UnitID{}
	if err := b.ask(ctx, func() {
		for _, soak := range b.soaks {
			taken[soak.place.Name] = soak.unit
		}
	}); err != nil {
		return Place{}, err
	}
	var why []string
	for _, place := range b.settings.Places {
		if name != "" && place.Name != name {
			continue
		}
		if unit, busy := taken[place.Name]; busy {
			why = append(why, fmt.Sprintf("place %s is taken by %s", place.Name, unit))
			continue
		}
		if missing := unwired(place, sheet); len(missing) > 0 {
			why = append(why, fmt.Sprintf("place %s has nothing at %s", place.Name, strings.Join(missing, ", ")))
			continue
		}
		return place, nil
	}
	if name != "" && len(why) == 0 {
		why = append(why, fmt.Sprintf("there is no place named %q", name))
	}
	return Place{}, fmt.Errorf("%w: %s", ErrNoPlace, strings.Join(why, "; "))
}

// unwired lists the test points of a sheet that a place has no connection for.
func unwired(place Place, sheet checks.Sheet) []string {
	var missing []string
	for _, point := range sheet.TestPoints {
		if !slices.ContainsFunc(place.Connections, func(c Connection) bool { return c.TestPoint == point.Name }) {
			missing = append(missing, string(point.Name))
		}
	}
	return missing
}

// identities are the instruments of a place, as far as they have answered.
func (b *Bench) identities(place Place) []book.SoakInstrument {
	var all []book.SoakInstrument
	for _, connection := range place.Connections {
		status := b.keepers[connection.Instrument].Status()
		known := slices.ContainsFunc(all, func(i book.SoakInstrument) bool { return i.Name == connection.Instrument })
		if !known {
			all = append(all, book.SoakInstrument{Name: connection.Instrument, Port: status.Port,
				Identity: status.Identity.Text, Since: b.now()})
		}
	}
	return all
}

// noteIdentity writes down who answers for the soaks that an instrument serves,
// where that was not known when they began or has become another.
func (b *Bench) noteIdentity(e device.Event) {
	keeper := b.keepers[e.Instrument]
	if keeper == nil || e.Kind != device.Opened {
		return
	}
	status := keeper.Status()
	now := book.SoakInstrument{Name: e.Instrument, Port: status.Port, Identity: status.Identity.Text, Since: e.At}
	for _, soak := range b.soaks {
		known, serves := soak.instruments[e.Instrument]
		if !serves || known.Port == now.Port && known.Identity == now.Identity {
			continue
		}
		soak.instruments[e.Instrument] = now
		if err := b.writer.PutSoakInstrument(soak.id, now); err != nil {
			b.options.Log.Error("who answered did not get into the book", "unit", soak.unit, "instrument", e.Instrument, "error", err)
		}
	}
}
