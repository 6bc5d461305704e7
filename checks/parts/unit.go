package parts

import (
	"math"
	"strconv"
	"strings"
)

// Unit is the unit that a figure of this package is expressed in. Its text is
// what stands behind a printed figure.
type Unit string

// The units used here.
const (
	Ohm     Unit = "ohm"
	Farad   Unit = "F"
	Hertz   Unit = "Hz"
	Volt    Unit = "V"
	Ampere  Unit = "A"
	Second  Unit = "s"
	Watt    Unit = "W"
	Decibel Unit = "dB"
	Ratio   Unit = ""
	Percent Unit = "%"
)

// scaled tells whether the unit takes an SI prefix.
func (u Unit) scaled() bool {
	return u != Decibel && u != Ratio && u != Percent
}

// Row is one figure of a result, for a table.
type Row struct {
	// Label says in a few words what the figure is.
	Label string
	Value float64
	Unit  Unit
}

// Figure prints the row's value with four significant digits and its unit.
func (r Row) Figure() string { return Figure(r.Value, r.Unit, 4) }

// prefixes are the SI prefixes from 10^-15 up in steps of three powers of ten.
const (
	prefixLowPower = -15
	microStep      = 3
)

var prefixes = []string{"f", "p", "n", "µ", "m", "", "k", "M", "G", "T"}

// Figure prints value with its unit and SI prefix, rounded to the number of
// significant digits given (at least 1): Figure(2257.9, Hertz, 4) is "2.258 kHz".
// Decibels, ratios and percent take no prefix and are printed with two, four and
// one decimals. Capacitors below 1 F go up to µF only, as the trade writes them.
// NaN is "not known", +Inf is "no limit".
func Figure(value float64, unit Unit, digits int) string {
	switch {
	case math.IsNaN(value):
		return "not known"
	case math.IsInf(value, 1):
		return "no limit"
	case !unit.scaled():
		decimals := map[Unit]int{Decibel: 2, Ratio: 4, Percent: 1}[unit]
		return strings.TrimSpace(unsignedZero(strconv.FormatFloat(value, 'f', decimals, 64)) + " " + string(unit))
	case value == 0 || math.IsInf(value, -1):
		return strconv.FormatFloat(value+0, 'f', -1, 64) + " " + string(unit)
	}
	mantissa, power := rounded(value, max(digits, 1))
	step := floorDiv(power, 3)*3 - prefixLowPower
	step = min(max(step/3, 0), len(prefixes)-1)
	if unit == Farad && power < 0 {
		step = min(step, microStep)
	}
	shift := power - (step*3 + prefixLowPower)
	text := strconv.FormatFloat(mantissa*math.Pow10(shift), 'f', max(digits-1-shift, 0), 64)
	return text + " " + prefixes[step] + string(unit)
}

// unsignedZero takes the sign off a figure that was rounded to nothing.
func unsignedZero(text string) string {
	if strings.Trim(text, "-0.") == "" {
		return strings.TrimPrefix(text, "-")
	}
	return text
}

// rounded splits value, rounded to the significant digits given, into a mantissa
// of 1 to 10 and a power of ten.
func rounded(value float64, digits int) (mantissa float64, power int) {
	text := strconv.FormatFloat(value, 'e', digits-1, 64)
	head, tail, _ := strings.Cut(text, "e")
	mantissa, _ = strconv.ParseFloat(head, 64) // both halves were printed by strconv
	power, _ = strconv.Atoi(tail)
	return mantissa, power
}

// floorDiv is a/b rounded down, b above 0.
func floorDiv(a, b int) int {
	q := a / b
	if a%b < 0 {
		q--
	}
	return q
}
