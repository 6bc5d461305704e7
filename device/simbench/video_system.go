package simbench

// videoSystem is a composite system's levels into 75 ohm (volts, blanking 0) and
// timings (seconds between half-amplitude points, from the leading edge of line
// sync). Figures: SMPTE 170M for 525/60, ITU-R BT.470-6 table 1 and BT.1700 for
// 625/50, as secondary sources quote them.
type videoSystem struct {
	line                float64
	tip, white, setup   float64
	burst               float64 // peak to peak
	syncWidth, syncEdge float64 // edge: 10 to 90 %
	burstStart          float64
	burstCycles         float64
	blankingEnd         float64
	frontPorch          float64
	equalising          float64 // low part of an equalising pulse
	serration           float64 // high part of a broad pulse
	pulses              int     // of each of the three kinds in a field
	blankLines          int     // of a field, with the vertical pulses
	subcarrierHz        float64
	alternating         bool // the second colour-difference signal changes sign every line
}

// system625 has system B/G timings but the front porch of 1.55 us that makes line
// blanking 12.05 us (within BT.470-6's 1.5 +/- 0.3 us).
func system625() videoSystem {
	return videoSystem{
		line: 64e-6, tip: -0.300, white: 0.700, burst: 0.300,
		syncWidth: 4.7e-6, syncEdge: 0.2e-6, burstStart: 5.6e-6, burstCycles: 10,
		blankingEnd: 10.5e-6, frontPorch: 1.55e-6,
		equalising: 2.35e-6, serration: 4.7e-6, pulses: 5, blankLines: 25,
		subcarrierHz: 4433618.75, alternating: true,
	}
}

// system525 has 140 IRE for 1 V, and 7.5 IRE of set-up.
func system525() videoSystem {
	const ire = 1.0 / 140
	return videoSystem{
		line: 572e-6 / 9, tip: -40 * ire, white: 100 * ire, setup: 7.5 * ire, burst: 40 * ire,
		syncWidth: 4.7e-6, syncEdge: 0.14e-6, burstStart: 5.3e-6, burstCycles: 9,
		blankingEnd: 9.4e-6, frontPorch: 1.5e-6,
		equalising: 2.3e-6, serration: 4.7e-6, pulses: 6, blankLines: 21,
		subcarrierHz: 315e6 / 88,
	}
}

// system returns what c asks for: the table's figures with c's line period and
// set-up.
func (c CompositeConfig) system() videoSystem {
	s := system625()
	if c.System == "525/60" {
		s = system525()
	}
	if c.LinePeriodS > 0 {
		s.line = c.LinePeriodS
	}
	if c.NoSetup {
		s.setup = 0
	}
	return s
}

// burstEnd is where the burst stops.
func (s videoSystem) burstEnd() float64 { return s.burstStart + s.burstCycles/s.subcarrierHz }

// pictureEnd is where the front porch of the next line begins.
func (s videoSystem) pictureEnd() float64 { return s.line - s.frontPorch }
