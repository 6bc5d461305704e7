package logger

import (
	"strings"
	"time"

	"soakline/checks"
	"soakline/device"
)

// offWatch follows the readings while the output is off: a unit that stays on does
// not hang on it, or the instrument did not do what it said.
type offWatch struct {
	sheet  checks.Sheet
	begin  time.Time
	latest map[checks.CheckKey]device.Reading
	// own is the test point of the output itself, which says nothing of the unit where
	// others do.
	own checks.TestPointName
}

func newOffWatch(sheet checks.Sheet, own checks.TestPointName, begin time.Time) *offWatch {
	return &offWatch{sheet: sheet, own: own, begin: begin, latest: map[checks.CheckKey]device.Reading{}}
}

// follow takes a reading of a check that must have left its limits when the unit is
// off: one whose limits leave 0 out.
func (o *offWatch) follow(point checks.TestPointName, r device.Reading) {
	if o == nil || !r.At.After(o.begin) {
		return
	}
	key := checks.CheckKey{TestPoint: point, Measure: r.Measure}
	check, asked := o.sheet.Check(key)
	if asked && check.Against == (checks.Reference{}) && (check.Limit.Low > 0 || check.Limit.High < 0) && leaves(r.Measure) {
		o.latest[key] = r
	}
}

// leaves tells measures that go to 0 with the power: a capacitance does not.
func leaves(m device.Measure) bool { return m.Unit() == device.Volt || m.Unit() == device.Ampere }

// stayed says which readings were still within when the pause is over, where none
// has left its limits; empty where the unit has gone off, or nothing tells.
func (o *offWatch) stayed(now time.Time) string {
	if o == nil {
		return ""
	}
	var unit, own []string
	for _, point := range o.sheet.TestPoints {
		for _, check := range point.Checks {
			key := checks.CheckKey{TestPoint: point.Name, Measure: check.Measure}
			r, read := o.latest[key]
			if !read || now.Sub(r.At) > check.FreshFor {
				continue
			}
			text := ""
			if r.Value >= check.Limit.Low && r.Value <= check.Limit.High {
				text = key.String() + " still " + checks.Figure(r.Value, 0, key.Measure.Unit())
			}
			if point.Name == o.own {
				own = append(own, text)
			} else {
				unit = append(unit, text)
			}
		}
	}
	if len(unit) == 0 {
		unit = own
	}
	for _, text := range unit {
		if text == "" {
			return ""
		}
	}
	return strings.Join(unit, "; ")
}
