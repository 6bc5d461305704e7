package logger

import (
	"sync/atomic"
	"time"

	"soakline/checks"
	"soakline/device"
)

// loads are the latest readings of the currents that the reservoir capacitors of a
// soak are found by. The owner writes them, instruments' goroutines read them.
type loads map[checks.TestPointName]*atomic.Pointer[device.Reading]

func newLoads(sheet checks.Sheet) loads {
	var made loads
	for _, point := range sheet.TestPoints {
		if plan := point.Reservoir; plan != nil && plan.LoadAt != "" {
			if made == nil {
				made = loads{}
			}
			made[plan.LoadAt] = &atomic.Pointer[device.Reading]{}
		}
	}
	return made
}

// note takes a reading that may be a load.
func (l loads) note(point checks.TestPointName, r device.Reading) {
	if latest := l[point]; latest != nil && r.Measure == device.DCCurrent {
		latest.Store(&r)
	}
}

// at is the load of a record that ended at a moment: the latest reading, if it was
// fresh then.
func (l loads) at(sheet checks.Sheet, point checks.TestPointName, at time.Time) (device.Reading, bool) {
	check, _ := sheet.Check(checks.CheckKey{TestPoint: point, Measure: device.DCCurrent})
	if latest := l[point]; latest != nil {
		if r := latest.Load(); r != nil && at.Sub(r.At).Abs() <= check.FreshFor {
			return *r, true
		}
	}
	return device.Reading{}, false
}

// reducedFor is what a record says for one test point of one soak.
type reducedFor struct {
	soak    *liveSoak
	point   checks.TestPointName
	reduced reduction
	err     error
}

// reduceRipples finds what a record says of the reservoir capacitors that it serves.
// That takes a tenth of a second, so the instrument's own goroutine does it: the
// bench goes on meanwhile.
func (b *Bench) reduceRipples(instrument, channel string, c device.Capture) []reducedFor {
	var all []reducedFor
	for _, route := range b.routes.Load().of(instrument, channel, "") {
		plan := route.point.Reservoir
		if plan == nil {
			continue
		}
		with := besideOf(route.point)
		with.accuracy = route.recordAccuracy
		if plan.LoadAt != "" {
			load, fresh := route.soak.loads.at(route.soak.sheet, plan.LoadAt, c.At)
			if fresh {
				with.read(load)
			}
			with.missed = !fresh || !(load.Value > 0)
		}
		r := reducedFor{soak: route.soak, point: route.point.Name}
		r.reduced, r.err = reduce(c, route.point, route.soak.sheet, with)
		all = append(all, r)
	}
	return all
}

// reduction is what a delivered record says for a route. A ripple that arrived as the
// routes were made anew was not looked at and says nothing.
func (d delivery) reduction(r *route) (reduction, error) {
	if r.point.Reservoir == nil {
		return reduce(*d.capture, r.point, r.soak.sheet, besideOf(r.point))
	}
	for _, found := range d.reduced {
		if found.soak == r.soak && found.point == r.point.Name {
			return found.reduced, found.err
		}
	}
	return reduction{}, nil
}
