package scpi

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
)

// ErrNotNumber says that a text is not a decimal number of IEEE 488.2.
var ErrNotNumber = errors.New("not a number")

// Decimal is a number exactly as an instrument wrote it: coefficient times ten to
// the exponent, trailing zeros kept, because they tell the resolution. The zero
// value is "no digits known", which is not the number 0. Decimals are comparable.
type Decimal struct {
	coefficient int64
	exponent    int32
	known       bool
	negative    bool   // only for minus zero, whose coefficient has no sign
	long        string // the coefficient, where it does not fit an int64
}

// NewDecimal returns coefficient times ten to the exponent.
func NewDecimal(coefficient int64, exponent int32) Decimal {
	return Decimal{coefficient: coefficient, exponent: exponent, known: true}
}

// maxExponent bounds the exponent; IEEE 488.2 allows a magnitude of 32000.
const maxExponent = 32000

// ParseDecimal reads NR1, NR2 and NR3 in any legal spelling (IEEE 488.2, 8.7.2 to
// 8.7.4, and 7.7.2 for the freer forms that instruments also send: "1.", ".5",
// "1e3", "1 E3" is refused). It fails with ErrNotNumber.
func ParseDecimal(text string) (Decimal, error) {
	mantissa, exponentText, hasExponent := strings.Cut(strings.Replace(text, "e", "E", 1), "E")
	exponent := int64(0)
	if hasExponent {
		var err error
		if exponent, err = strconv.ParseInt(exponentText, 10, 32); err != nil || exponent > maxExponent || exponent < -maxExponent {
			return Decimal{}, fmt.Errorf("%q: exponent: %w", text, ErrNotNumber)
		}
	}
	whole, fraction, _ := strings.Cut(mantissa, ".")
	negative := strings.HasPrefix(whole, "-")
	digits := strings.TrimPrefix(strings.TrimPrefix(whole, "-"), "+")
	if len(whole)-len(digits) > 1 {
		return Decimal{}, fmt.Errorf("%q: %w", text, ErrNotNumber)
	}
	digits += fraction
	if digits == "" || strings.Trim(digits, "0123456789") != "" {
		return Decimal{}, fmt.Errorf("%q: %w", text, ErrNotNumber)
	}
	return fromDigits(negative, digits, int32(exponent)-int32(len(fraction))), nil
}

// fromDigits builds a Decimal from a non-empty run of decimal digits.
func fromDigits(negative bool, digits string, exponent int32) Decimal {
	digits = strings.TrimLeft(digits, "0")
	d := Decimal{exponent: exponent, known: true}
	if digits == "" {
		d.negative = negative
		return d
	}
	if negative {
		digits = "-" + digits
	}
	coefficient, err := strconv.ParseInt(digits, 10, 64)
	if err != nil {
		d.long = digits
		return d
	}
	d.coefficient = coefficient
	return d
}

// Known tells whether there are digits at all.
func (d Decimal) Known() bool { return d.known }

// Parts returns the coefficient and the exponent; ok is false where the
// coefficient does not fit an int64 or the number is minus zero, which String
// still tells exactly.
func (d Decimal) Parts() (coefficient int64, exponent int32, ok bool) {
	return d.coefficient, d.exponent, d.known && d.long == "" && !d.negative
}

// Scaled returns d times ten to the given power, exactly.
func (d Decimal) Scaled(power int) Decimal {
	if d.known {
		d.exponent += int32(power)
	}
	return d
}

// String writes the digits so that ParseDecimal gives the same Decimal again:
// "5.0121", "-1.00213E-9"; empty where no digits are known.
func (d Decimal) String() string {
	if !d.known {
		return ""
	}
	digits, sign := d.long, ""
	if digits == "" {
		digits = strconv.FormatInt(d.coefficient, 10)
	}
	if d.negative {
		sign = "-"
	}
	if rest, minus := strings.CutPrefix(digits, "-"); minus {
		digits, sign = rest, "-"
	}
	const widest = 12 // more leading or trailing zeros than this are an exponent
	switch point := len(digits) + int(d.exponent); {
	case d.exponent == 0:
		return sign + digits
	case d.exponent < 0 && point > 0:
		return sign + digits[:point] + "." + digits[point:]
	case d.exponent < 0 && point > -widest:
		return sign + "0." + strings.Repeat("0", -point) + digits
	default:
		return sign + digits + "E" + strconv.Itoa(int(d.exponent))
	}
}

// Float64 returns the nearest float64; an infinity where it does not fit.
func (d Decimal) Float64() float64 {
	digits := d.long
	if digits == "" {
		digits = strconv.FormatInt(d.coefficient, 10)
		if d.negative {
			digits = "-0"
		}
	}
	value, _ := strconv.ParseFloat(digits+"E"+strconv.Itoa(int(d.exponent)), 64)
	return value
}

// Resolution is one step of the last digit: 0.0001 for "5.0121".
func (d Decimal) Resolution() float64 {
	if !d.known {
		return 0
	}
	return NewDecimal(1, d.exponent).Float64()
}
