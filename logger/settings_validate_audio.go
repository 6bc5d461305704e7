package logger

import (
	"fmt"
	"slices"

	"soakline/checks"
	"soakline/device"
)

// balances reports channels that are to be compared and cannot be taken at once.
func (v *validation) balances(at string, p Place) {
	for i, c := range p.Connections {
		for _, sheet := range v.settings.Sheets {
			point, ok := pointOf(sheet, c.TestPoint)
			if ok && balanced(point) {
				v.balance(fmt.Sprintf("%sconnections[%d].test_point", at, i), c, point, p)
			}
		}
	}
}

// balanced tells whether the point's checks need the other channel.
func balanced(point checks.TestPoint) bool {
	return point.Audio != nil && slices.ContainsFunc(point.Checks, func(c checks.Check) bool { return c.Measure == device.ChannelBalance })
}

func (v *validation) balance(path string, c Connection, point checks.TestPoint, p Place) {
	in := slices.IndexFunc(v.settings.Instruments, func(in InstrumentSettings) bool { return in.Name == c.Instrument })
	if in < 0 {
		return // reported already
	}
	set := v.settings.Instruments[in].Commands
	switch how := set.CaptureFor(device.AudioSignal); {
	case how == nil: // reported already
	case len(how.Beside) == 0:
		v.addf(path, "%s at %s needs two channels at once, and command set %q does not say how the second is fetched (beside)",
			device.ChannelBalance, point.Name, set.Name)
	case shotOf(point, c, p.Connections).Beside == "":
		v.addf(path, "%s at %s needs %s on another channel of instrument %q at this place",
			device.ChannelBalance, point.Name, point.Audio.Beside, c.Instrument)
	}
}
