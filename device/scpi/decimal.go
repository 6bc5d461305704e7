package scpi

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
)

// ErrNotNumber says that a text is not a number of IEEE 488.2.
var ErrNotNumber = errors.New("not a number")

// Decimal is a number exactly as an instrument wrote it: coefficient times ten to
// the exponent, trailing zeros kept, because they tell the resolution. The zero
// value is "no digits known", which is not the number 0. Decimals are comparable.
type Decimal struct {
	coefficient int64
	exponent    int32
	known       bool
	negative    bool   // only for minus zero, whose coefficient has no sign
	long        string // the coefficient with its sign, where it does not fit an int64
}

const (
	// mostExponent and mostDigits are the bounds of IEEE 488.2, 7.7.2.4.1 (S-18);
	// leading zeros are no digits.
	mostExponent = 32000
	mostDigits   = 255
)

// NewDecimal returns coefficient times ten to the exponent; no digits known where
// the exponent's magnitude is above 32000, which no instrument sends.
func NewDecimal(coefficient int64, exponent int32) Decimal {
	return Decimal{coefficient: coefficient, exponent: exponent, known: true}.inRange()
}

// inRange is d, or no digits where String could not be read back.
func (d Decimal) inRange() Decimal {
	if d.exponent > mostExponent || d.exponent < -mostExponent {
		return Decimal{}
	}
	return d
}

// ParseDecimal reads NR1, NR2 and NR3 in any legal spelling (IEEE 488.2, 8.7.2 to
// 8.7.4), and the freer forms that instruments also send (7.7.2): "1.", ".5",
// "1e3". White space is refused; ParseNumber allows it. It fails with
// ErrNotNumber, also beyond 255 digits or a power of ten of 32000.
func ParseDecimal(text string) (Decimal, error) {
	mantissa, exponent, ok := cutExponent(text)
	unsigned, negative := strings.CutPrefix(mantissa, "-")
	if !negative {
		unsigned = strings.TrimPrefix(mantissa, "+")
	}
	whole, fraction, _ := strings.Cut(unsigned, ".")
	if !ok || len(whole)+len(fraction) == 0 || !allDigits(whole) || !allDigits(fraction) {
		return Decimal{}, fmt.Errorf("%q: %w", text, ErrNotNumber)
	}
	if len(strings.TrimLeft(whole+fraction, "0")) > mostDigits || len(fraction) > mostExponent {
		return Decimal{}, fmt.Errorf("%.40q... has more than %d digits: %w", text, mostDigits, ErrNotNumber)
	}
	d := fromDigits(negative, whole, fraction)
	d.exponent = exponent - int32(len(fraction))
	if d = d.inRange(); !d.known {
		return Decimal{}, fmt.Errorf("%q: power of ten beyond %d: %w", text, mostExponent, ErrNotNumber)
	}
	return d, nil
}

// cutExponent cuts what stands behind an E, in either case.
func cutExponent(text string) (mantissa string, exponent int32, ok bool) {
	i := strings.IndexAny(text, "eE")
	if i < 0 {
		return text, 0, true
	}
	value, err := strconv.ParseInt(text[i+1:], 10, 32)
	return text[:i], int32(value), err == nil && value <= mostExponent && value >= -mostExponent
}

func allDigits(text string) bool {
	for i := range len(text) {
		if text[i] < '0' || text[i] > '9' {
			return false
		}
	}
	return true
}

// fromDigits builds a Decimal from digits before and behind a point.
func fromDigits(negative bool, whole, fraction string) Decimal {
	coefficient, fits := int64(0), true // counted downwards: there is one more negative int64
	for _, part := range [2]string{whole, fraction} {
		for i := range len(part) {
			digit := int64(part[i] - '0')
			fits = fits && coefficient >= (math.MinInt64+digit)/10
			coefficient = coefficient*10 - digit
		}
	}
	switch {
	case !fits, !negative && coefficient == math.MinInt64:
		long := strings.TrimLeft(whole+fraction, "0")
		if negative {
			long = "-" + long
		}
		return Decimal{known: true, long: long}
	case negative:
		return Decimal{known: true, coefficient: coefficient, negative: coefficient == 0}
	default:
		return Decimal{known: true, coefficient: -coefficient}
	}
}

// Known tells whether there are digits at all.
func (d Decimal) Known() bool { return d.known }

// Parts returns the coefficient and the exponent; ok is false where the
// coefficient does not fit an int64 or the number is minus zero, which String
// still tells exactly.
func (d Decimal) Parts() (coefficient int64, exponent int32, ok bool) {
	return d.coefficient, d.exponent, d.known && d.long == "" && !d.negative
}

// Scaled returns d times ten to the given power, exactly; no digits known beyond
// a power of ten of 32000.
func (d Decimal) Scaled(power int) Decimal {
	if !d.known {
		return d
	}
	if power > 2*mostExponent || power < -2*mostExponent {
		return Decimal{}
	}
	d.exponent += int32(power)
	return d.inRange()
}

// digits is the coefficient and its sign as text.
func (d Decimal) digits() (sign, digits string) {
	digits = d.long
	if digits == "" {
		digits = strconv.FormatInt(d.coefficient, 10)
	}
	if rest, minus := strings.CutPrefix(digits, "-"); minus {
		return "-", rest
	}
	if d.negative {
		return "-", digits
	}
	return "", digits
}

// String writes the digits so that ParseDecimal gives the same Decimal again:
// "5.0121", "-1.00213E-9"; empty where no digits are known.
func (d Decimal) String() string {
	if !d.known {
		return ""
	}
	sign, digits := d.digits()
	const widest = 6 // more leading zeros than this are an exponent
	switch point := len(digits) + int(d.exponent); {
	case d.exponent == 0:
		return sign + digits
	case d.exponent < 0 && point > 0:
		return sign + digits[:point] + "." + digits[point:]
	case d.exponent < 0 && point > -widest:
		return sign + "0." + strings.Repeat("0", -point) + digits
	case len(digits) > 1 && point-1 <= mostExponent:
		return sign + digits[:1] + "." + digits[1:] + "E" + strconv.Itoa(point-1)
	default:
		return sign + digits + "E" + strconv.Itoa(int(d.exponent))
	}
}

// powersOfTen are those that a float64 holds exactly.
var powersOfTen = [...]float64{
	1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11,
	1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22,
}

// Float64 returns the nearest float64; an infinity where it does not fit, NaN
// where no digits are known.
func (d Decimal) Float64() float64 {
	if !d.known {
		return math.NaN()
	}
	const exact = 1 << 53 // up to here one rounding of exact operands is the nearest
	if c := d.coefficient; d.long == "" && !d.negative && c <= exact && c >= -exact {
		switch {
		case d.exponent >= 0 && int(d.exponent) < len(powersOfTen):
			return float64(c) * powersOfTen[d.exponent]
		case d.exponent < 0 && int(-d.exponent) < len(powersOfTen):
			return float64(c) / powersOfTen[-d.exponent]
		}
	}
	sign, digits := d.digits()
	value, _ := strconv.ParseFloat(sign+digits+"E"+strconv.Itoa(int(d.exponent)), 64) // out of range is an infinity
	return value
}

// Resolution is one step of the last digit: 0.0001 for "5.0121"; 0 where no
// digits are known, as for a figure that was computed.
func (d Decimal) Resolution() float64 {
	if !d.known {
		return 0
	}
	return NewDecimal(1, d.exponent).Float64()
}
