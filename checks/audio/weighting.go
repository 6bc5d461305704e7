package audio

import "math"

// The poles of frequency weighting A in Hz, two-fold at either end (IEC 61672-1,
// annex E gives how they are found; the formula is from memory, its values were
// checked against the standard's table).
const (
	poleLow   = 20.598997
	poleLower = 107.65265
	poleUpper = 737.86223
	poleHigh  = 12194.217
)

// aGain is frequency weighting A as a factor of amplitude, without its
// normalisation:
//
//	f⁴ f4² / ((f² + f1²) (f² + f4²) sqrt((f² + f2²) (f² + f3²)))
func aGain(hertz float64) float64 {
	square := hertz * hertz
	const f1, f2, f3, f4 = poleLow * poleLow, poleLower * poleLower, poleUpper * poleUpper, poleHigh * poleHigh
	return square * square * f4 / ((square + f1) * (square + f4) * math.Sqrt((square+f2)*(square+f3)))
}

// aNormal makes the weighting 0 dB at 1 kHz.
var aNormal = 1 / aGain(1000)

// AWeightingDecibels is frequency weighting A of IEC 61672-1 at a frequency above 0,
// 0 dB at 1 kHz. Mains hum comes through it 16 to 30 dB too low.
func AWeightingDecibels(hertz float64) float64 {
	return 20 * math.Log10(aNormal*aGain(hertz))
}

// aPower is the weighting as a factor of power.
func aPower(hertz float64) float64 {
	g := aNormal * aGain(hertz)
	return g * g
}
