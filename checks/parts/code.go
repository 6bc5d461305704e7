package parts

import (
	"math"
	"strconv"
	"strings"
)

// Code writes a resistance or capacitance as IEC 60062 does, the letter in place
// of the decimal point: 4700 ohm is "4k7", 0.47 ohm "R47", 75 ohm "75R", 1.5e-9 F
// "1n5", 4.7e-6 F "4µ7". All digits of value are kept, so that ParseQuantity gives
// exactly value back. Other units, figures that are not finite and those outside
// the letters' range are written as plain numbers, which parse back as well.
func Code(value float64, unit Unit) string {
	letters, lowPower := codeLetters(unit)
	plain := strconv.FormatFloat(value, 'g', -1, 64)
	if letters == nil || math.IsNaN(value) || math.IsInf(value, 0) {
		return plain
	}
	if value == 0 {
		return "0" + letters[-lowPower/3]
	}
	head, tail, _ := strings.Cut(strconv.FormatFloat(math.Abs(value), 'e', -1, 64), "e")
	digits := strings.Replace(head, ".", "", 1)
	power, _ := strconv.Atoi(tail) // printed by strconv just above
	step := max(floorDiv(power-lowPower, 3), 0)
	if step >= len(letters) || power < lowPower-3 {
		return plain
	}
	sign := ""
	if value < 0 {
		sign = "-"
	}
	return sign + placeLetter(digits, letters[step], power-lowPower-3*step+1)
}

// codeLetters returns the letters of a unit, in steps of three powers of ten, and
// the power of the first one; nil where IEC 60062 has no letters for the unit.
func codeLetters(unit Unit) (letters []string, lowPower int) {
	switch unit {
	case Ohm:
		return []string{"R", "k", "M", "G", "T"}, 0
	case Farad:
		return []string{"p", "n", "µ", "m", "F"}, -12
	default:
		return nil, 0
	}
}

// placeLetter puts letter behind the first whole digits, with zeros where the
// digits do not reach.
func placeLetter(digits, letter string, whole int) string {
	switch {
	case whole <= 0:
		return letter + strings.Repeat("0", -whole) + digits
	case whole >= len(digits):
		return digits + strings.Repeat("0", whole-len(digits)) + letter
	default:
		return digits[:whole] + letter + digits[whole:]
	}
}
