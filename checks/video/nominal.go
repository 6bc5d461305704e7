package video

// System is a line system: the lines of a full frame and its fields per second.
type System string

// The two systems. Empty means not known.
const (
	System625 System = "625/50"
	System525 System = "525/60"
)

const microsecond = 1e-6

// nominal holds what a system asks for. Volts are into 75 ohm, times in seconds
// from the 50 % point of the leading edge of line sync.
type nominal struct {
	syncVolts, whiteVolts, burstVolts float64
	subcarrierHertz                   float64
	// activeFrom is where line blanking ends, activeTo how long before the next
	// sync edge it begins again.
	activeFrom, activeTo float64
	// porchFrom and porchTo bound the part of the back porch after the burst, a
	// whole number of subcarrier cycles long.
	porchFrom, porchTo float64
	// periods are the line periods in use: the standard's and those of consoles
	// whose line is a whole number of subcarrier cycles or of thirds of them.
	periods []float64
}

// Levels: SMPTE 170M and ITU-R BT.470-6 table 1, as quoted by second sources.
// Timing: the same, with line blanking 10.9 and 12.05 us. Console periods: common
// practice, derived from the subcarrier.
var (
	nominal525 = nominal{
		syncVolts: 40.0 / 140, whiteVolts: 100.0 / 140, burstVolts: 40.0 / 140,
		subcarrierHertz: 315e6 / 88,
		activeFrom:      9.4 * microsecond, activeTo: 1.5 * microsecond,
		porchFrom: 8.25 * microsecond, porchTo: (8.25 + 3/3.579545) * microsecond,
		periods: []float64{63.5556 * microsecond, 63.6952 * microsecond, 63.5090 * microsecond, 63.4159 * microsecond},
	}
	nominal625 = nominal{
		syncVolts: 0.3, whiteVolts: 0.7, burstVolts: 0.3,
		subcarrierHertz: 4.43361875e6,
		activeFrom:      10.5 * microsecond, activeTo: 1.65 * microsecond,
		porchFrom: 8.4 * microsecond, porchTo: (8.4 + 7/4.43361875) * microsecond,
		periods: []float64{64 * microsecond, 64.0560 * microsecond, 63.8305 * microsecond},
	}
)

// nominalOf returns the figures of s. If s is not known they are those of 625/50, but
// for the back porch, of which only what both systems have is used.
func nominalOf(s System) nominal {
	switch s {
	case System525:
		return nominal525
	case System625:
		return nominal625
	}
	n := nominal625
	n.porchFrom, n.porchTo = nominal625.porchFrom, nominal525.porchTo
	return n
}

func (n nominal) lumaVolts() float64 { return n.syncVolts + n.whiteVolts }

// whiteOverSync is the picture to sync ratio, 2.5 or 2.333.
func (n nominal) whiteOverSync() float64 { return n.whiteVolts / n.syncVolts }
