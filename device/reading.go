package device

import (
	"time"

	"soakline/device/scpi"
)

// Reading is one number at one time. A number that an instrument marks as not a
// number or as an overflow never becomes a Reading: it is an Event.
type Reading struct {
	Measure Measure
	// Value is in the unit of Measure; always finite.
	Value float64
	// Digits is the same number exactly as the instrument sent it, after the
	// command set's power-of-ten scale. It is the zero Decimal for a figure that
	// was computed here, from a capture.
	Digits scpi.Decimal
	// At is when the last byte of the answer arrived, to the microsecond, by
	// scpi.Steady: it does not jump when somebody sets the machine's clock.
	At time.Time
	// StandardUncertainty is one standard uncertainty of Value in its unit, from
	// the instrument's accuracy clause (JCGM 100, 4.3); 0 where none is given.
	StandardUncertainty float64
}
