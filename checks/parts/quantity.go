package parts

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode/utf8"
)

// unitWords are the ways a unit may be written behind a quantity.
var unitWords = map[Unit][]string{
	Ohm:    {"ohms", "ohm", "Ω", "\u2126"},
	Farad:  {"F"},
	Hertz:  {"Hz"},
	Volt:   {"V"},
	Ampere: {"A"},
	Second: {"s"},
	Watt:   {"W"},
}

// powers are the letters that may stand behind a number or in place of its
// decimal point, as powers of ten.
var powers = map[rune]int{
	'p': -12, 'n': -9, 'u': -6, 'µ': -6, 'μ': -6, 'm': -3,
	'k': 3, 'K': 3, 'M': 6, 'G': 9, 'T': 12,
}

// marks are the letters that stand for a unit in place of the decimal point:
// IEC 60062:2016 clause 5 (R and L for ohm and milliohm, F for farad; clause from
// memory); V is common practice.
var marks = map[Unit]map[rune]int{
	Ohm:   {'R': 0, 'L': -3},
	Farad: {'F': 0},
	Volt:  {'V': 0},
}

// ParseQuantity reads a quantity in the unit given and returns it in that SI unit,
// correctly rounded. It takes plain numbers ("75", "4.7e-6"), numbers with a
// prefix and perhaps the unit ("100n", "100 nF", "4.7k", "75 ohm") and values as
// IEC 60062 writes them, the letter in place of the decimal point ("4k7", "1n5",
// "820p", "R47", "0R1", "2M2", "4µ7"). m is milli and M mega; k may also be K.
//
// Not taken: a decimal comma (a comma parts values in a list), three-figure codes
// such as "104" (it is the plain number 104), tolerance letters, prefixes of kilo
// and above on farads (an old "M" there means micro), and anything not finite.
func ParseQuantity(text string, unit Unit) (float64, error) {
	fail := func(why string) (float64, error) {
		return 0, fmt.Errorf("quantity %q (%s): %s", text, unit, why)
	}
	body := strings.TrimSpace(text)
	if body == "" {
		return fail("empty")
	}
	if strings.Contains(body, ",") {
		return fail("a decimal is written with a point, or as in 4k7")
	}
	parsed, why := scanQuantity(withoutUnit(body, unit))
	if why != "" {
		return fail(why)
	}
	power, why := parsed.power(unit)
	if why != "" {
		return fail(why)
	}
	value, err := strconv.ParseFloat(parsed.digits()+"e"+strconv.Itoa(power), 64)
	if err != nil || math.IsInf(value, 0) {
		return fail("out of range")
	}
	return value, nil
}

// withoutUnit takes the unit's own word off the end, unless nothing would be left.
func withoutUnit(body string, unit Unit) string {
	for _, word := range unitWords[unit] {
		if rest, found := strings.CutSuffix(body, word); found && rest != "" {
			return strings.TrimRight(rest, " ")
		}
	}
	return body
}

// scannedQuantity is a quantity taken apart.
type scannedQuantity struct {
	sign, whole, fraction string
	exponent              int
	letter                rune // 0 where there is none
}

func (q scannedQuantity) digits() string { return q.sign + q.whole + "." + q.fraction }

// power returns the power of ten that the digits are worth in the unit, or why
// the letter cannot stand there.
func (q scannedQuantity) power(unit Unit) (power int, why string) {
	if q.letter == 0 {
		return q.exponent, ""
	}
	if mark, ok := marks[unit][q.letter]; ok {
		return q.exponent + mark, ""
	}
	scale, ok := powers[q.letter]
	if !ok {
		return 0, fmt.Sprintf("%q is no prefix here", q.letter)
	}
	if unit == Farad && scale > 0 {
		return 0, fmt.Sprintf("%q on farads: write u for micro or m for milli", q.letter)
	}
	return q.exponent + scale, ""
}

// scanQuantity takes a quantity without its unit apart; why is empty if it can.
func scanQuantity(body string) (q scannedQuantity, why string) {
	if body[0] == '-' || body[0] == '+' {
		q.sign, body = body[:1], body[1:]
	}
	q.whole, body = leadingDigits(body)
	pointed := strings.HasPrefix(body, ".")
	if pointed {
		q.fraction, body = leadingDigits(body[1:])
	}
	exponent, body, powered, why := leadingExponent(body)
	if why != "" {
		return q, why
	}
	q.exponent = exponent
	body = strings.TrimLeft(body, " ")
	if body != "" {
		letter, size := utf8.DecodeRuneInString(body)
		if powered {
			return q, fmt.Sprintf("%q after an exponent", letter)
		}
		after, rest := leadingDigits(body[size:])
		switch {
		case rest != "":
			return q, fmt.Sprintf("%q is not understood; wanted as in 4k7, 4.7k or 4700", body)
		case after != "" && pointed:
			return q, "a point and a letter that stands for one"
		}
		q.letter, q.fraction = letter, q.fraction+after
	}
	if q.whole+q.fraction == "" {
		return q, "no digits"
	}
	return q, ""
}

// leadingDigits parts text after its leading ASCII digits.
func leadingDigits(text string) (digits, rest string) {
	n := 0
	for n < len(text) && text[n] >= '0' && text[n] <= '9' {
		n++
	}
	return text[:n], text[n:]
}

// leadingExponent reads an exponent as in "e-6" off the front of text, if there
// is one.
func leadingExponent(text string) (exponent int, rest string, found bool, why string) {
	if text == "" || (text[0] != 'e' && text[0] != 'E') {
		return 0, text, false, ""
	}
	body, sign := text[1:], ""
	if body != "" && (body[0] == '-' || body[0] == '+') {
		sign, body = body[:1], body[1:]
	}
	digits, rest := leadingDigits(body)
	exponent, err := strconv.Atoi(sign + digits)
	if err != nil || exponent < -400 || exponent > 400 {
		return 0, text, false, "the exponent is not understood"
	}
	return exponent, rest, true, ""
}
