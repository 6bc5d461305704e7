package checks

import (
	"math"
	"strconv"
	"strings"

	"soakline/device"
)

// NotKnown is what stands for a figure that is not known.
const NotKnown = "not known"

// Figure prints a figure for people with its unit, an SI prefix where it helps,
// and as many digits as its uncertainty allows: "5.0121 V ± 0.0018". u is one
// standard uncertainty; what stands behind ± is the expanded uncertainty
// U = 2 u with two significant digits (JCGM 100:2008, 7.2.6), in the figure's
// prefixed unit. Without an uncertainty (u 0 or NaN) there are up to five
// significant digits and nothing behind. A ratio is printed in percent. NaN and
// infinities are "not known".
func Figure(value, u float64, unit device.Unit) string {
	text := plainFigure(value, u, unit)
	if text == NotKnown || !given(u) {
		return text
	}
	s := scaleFor(value, u, unit)
	return text + " ± " + fixed(expanded(u)/s.factor, places(u, s))
}

// Difference is Figure with the sign shown: "+0.146 V ± 0.009".
func Difference(value, u float64, unit device.Unit) string {
	text := Figure(value, u, unit)
	if value > 0 && text != NotKnown {
		return "+" + text
	}
	return text
}

// plainFigure is Figure without what stands behind ±.
func plainFigure(value, u float64, unit device.Unit) string {
	if math.IsNaN(value) || math.IsInf(value, 0) {
		return NotKnown
	}
	s := scaleFor(value, u, unit)
	if given(u) {
		return s.withUnit(fixed(value/s.factor, places(u, s)))
	}
	const digits = 5
	rounded, _ := strconv.ParseFloat(strconv.FormatFloat(value/s.factor, 'e', digits-1, 64), 64)
	return s.withUnit(strconv.FormatFloat(rounded, s.format, -1, 64))
}

// uncertaintyText prints the U = 2 u of a figure by itself, in the figure's
// prefixed unit: "0.0060 V".
func uncertaintyText(value, u float64, unit device.Unit) string {
	s := scaleFor(value, u, unit)
	return s.withUnit(fixed(expanded(u)/s.factor, places(u, s)))
}

// given tells whether u is an uncertainty that somebody gave.
func given(u float64) bool { return u > 0 && !math.IsInf(u, 0) }

// expanded rounds U = 2 u to two significant digits.
func expanded(u float64) float64 {
	rounded, _ := strconv.ParseFloat(strconv.FormatFloat(CoverageFactor*u, 'e', 1, 64), 64)
	return rounded
}

// places is how many decimals show two significant digits of U.
func places(u float64, s scale) int {
	return max(0, 1-int(math.Floor(math.Log10(expanded(u)/s.factor)+1e-9)))
}

// fixed prints with a number of decimals, and never a minus zero.
func fixed(x float64, decimals int) string {
	text := strconv.FormatFloat(x, 'f', decimals, 64)
	if strings.Trim(text, "-0.") == "" {
		return strings.TrimPrefix(text, "-")
	}
	return text
}

// scale is a prefixed unit.
type scale struct {
	factor float64
	symbol string
	format byte // of strconv
}

func (s scale) withUnit(number string) string {
	if s.symbol == "" {
		return number
	}
	return number + " " + s.symbol
}

// prefixes of the SI, the largest first.
var prefixes = []struct {
	factor float64
	name   string
}{{1e9, "G"}, {1e6, "M"}, {1e3, "k"}, {1, ""}, {1e-3, "m"}, {1e-6, "µ"}, {1e-9, "n"}, {1e-12, "p"}}

// scaleFor chooses the prefix: the bench says 0.231 V and 9.8 mV, and counts
// capacitors in µF however large they are.
func scaleFor(value, u float64, unit device.Unit) scale {
	size := math.Abs(value)
	if given(u) {
		size = math.Max(size, CoverageFactor*u)
	}
	switch {
	case unit == device.Ratio:
		return scale{factor: 0.01, symbol: "%", format: plainOr(size)}
	case unit == device.Celsius || unit.Symbol == "" || size == 0:
		return scale{factor: 1, symbol: unit.Symbol, format: plainOr(size)}
	case size >= 0.1 && size < 1e3 && unit != device.Farad:
		return scale{factor: 1, symbol: unit.Symbol, format: 'f'}
	}
	for _, p := range prefixes {
		if unit == device.Farad && p.factor > 1e-6 || unit == device.Second && p.factor > 1 {
			continue
		}
		if size >= p.factor*0.99995 {
			return scale{factor: p.factor, symbol: p.name + unit.Symbol, format: plainOr(size / p.factor)}
		}
	}
	smallest := prefixes[len(prefixes)-1]
	return scale{factor: smallest.factor, symbol: smallest.name + unit.Symbol, format: plainOr(size / smallest.factor)}
}

// plainOr is 'f' unless the number would be long.
func plainOr(size float64) byte {
	if size != 0 && (size < 1e-4 || size >= 1e7) {
		return 'g'
	}
	return 'f'
}

// ASCII writes a figure or a bracket for a terminal that shows nothing else. A
// bracket keeps its width.
func ASCII(text string) string { return asciiOnly.Replace(text) }

var asciiOnly = strings.NewReplacer("±", "+/-", "µ", "u", "°", "deg ", "·", ".", "─", "-", "░", "~", "…", ":")
