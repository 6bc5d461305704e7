package device

import "slices"

// Measure says what a number is: the DC voltage at a point, the peak-to-peak
// voltage of a capture, a frequency. Its name is spelled the same in sheets, in
// the book, in metrics and on every screen.
type Measure string

// The measures that instruments give directly.
const (
	DCVoltage   Measure = "dc-voltage"
	ACVoltage   Measure = "ac-voltage" // rms
	DCCurrent   Measure = "dc-current"
	ACCurrent   Measure = "ac-current" // rms
	Resistance  Measure = "resistance"
	Capacitance Measure = "capacitance"
	Frequency   Measure = "frequency"
	Period      Measure = "period"
	Temperature Measure = "temperature"
	PeakToPeak  Measure = "peak-to-peak"
	Ripple      Measure = "ripple" // peak to peak
	// SeriesResistance is a capacitor's equivalent one (ESR); log its frequency and
	// temperature with it.
	SeriesResistance Measure = "series-resistance"
)

// The measures that a captured line of composite video is reduced to.
const (
	LumaPeakToPeak Measure = "luma-peak-to-peak" // sync tip to white, subcarrier removed
	SyncTip        Measure = "sync-tip"
	Blanking       Measure = "blanking"
	Black          Measure = "black"
	White          Measure = "white"
	SyncAmplitude  Measure = "sync"
	Picture        Measure = "picture"
	Burst          Measure = "burst" // peak to peak
	BurstFrequency Measure = "burst-frequency"
	Overshoot      Measure = "overshoot"  // share of the transition, 0.04 is 4 %
	Undershoot     Measure = "undershoot" // likewise
	Tilt           Measure = "tilt"       // share of the level over a line
	Rise           Measure = "rise"
	Fall           Measure = "fall"
	Noise          Measure = "noise" // rms
	LinePeriod     Measure = "line-period"
	SyncWidth      Measure = "sync-width"
	Bandwidth      Measure = "bandwidth"
)

// The further measures that a record of audio is reduced to. Noise is used there as
// well.
const (
	CrestFactor        Measure = "crest-factor"         // peak over rms, a sine's is the square root of 2
	NoiseAWeighted     Measure = "noise-a-weighted"     // rms, IEC 61672-1
	Hum                Measure = "hum"                  // rms of all lines
	HarmonicDistortion Measure = "harmonic-distortion"  // share of the fundamental
	DistortionAndNoise Measure = "distortion-and-noise" // likewise
	ChannelBalance     Measure = "channel-balance"      // left over right, 1 is alike
	Click              Measure = "click"                // the highest in the record, 0 if there is none
	Dropout            Measure = "dropout"              // time without the tone in the record, 1 ms and more
)

// units is the one table of measures; what is not in it is no measure.
var units = map[Measure]Unit{
	DCVoltage: Volt, ACVoltage: Volt, DCCurrent: Ampere, ACCurrent: Ampere,
	Resistance: Ohm, Capacitance: Farad, Frequency: Hertz, Period: Second,
	Temperature: Celsius, PeakToPeak: Volt, Ripple: Volt, SeriesResistance: Ohm,

	LumaPeakToPeak: Volt, SyncTip: Volt, Blanking: Volt, Black: Volt, White: Volt,
	SyncAmplitude: Volt, Picture: Volt, Burst: Volt, BurstFrequency: Hertz,
	Overshoot: Ratio, Undershoot: Ratio, Tilt: Ratio, Rise: Second, Fall: Second,
	Noise: Volt, LinePeriod: Second, SyncWidth: Second, Bandwidth: Hertz,

	CrestFactor: Factor, NoiseAWeighted: Volt, Hum: Volt,
	HarmonicDistortion: Ratio, DistortionAndNoise: Ratio, ChannelBalance: Factor,
	Click: Volt, Dropout: Second,
}

// Known tells whether m is in the table of measures.
func (m Measure) Known() bool {
	_, ok := units[m]
	return ok
}

// Unit returns the unit of m; the zero Unit if m is not known.
func (m Measure) Unit() Unit { return units[m] }

// Measures lists every known measure in the order of their names.
func Measures() []Measure {
	all := make([]Measure, 0, len(units))
	for m := range units {
		all = append(all, m)
	}
	slices.Sort(all)
	return all
}
