package device

import (
	"bytes"
	"math"
	"strconv"
)

// recordNumber is a decimal number as it is printed in a cell.
type recordNumber struct {
	text     []byte
	negative bool
	// mantissa holds the digits as a whole number while they are at most 15, the
	// first zeros not counted; decimals is how many of all digits stand behind the
	// mark.
	mantissa         uint64
	digits, decimals int
	exponent         int
}

// farExponent is farther than any float64 reaches, whatever the decimals.
const farExponent = 1 << 30

// scanNumber takes a number apart. Only digits, a sign, one decimal mark and an
// exponent are taken: no hexadecimal, no words, no thousands marks.
func (d recordDialect) scanNumber(cell []byte) (n recordNumber, ok bool) {
	mark := byte('.')
	if d.decimalComma {
		mark = ','
	}
	n.text = cell
	i, seen, marked := 0, false, false
	if len(cell) > 0 && (cell[0] == '-' || cell[0] == '+') {
		n.negative = cell[0] == '-'
		i++
	}
	for ; i < len(cell); i++ {
		c := cell[i] - '0'
		switch {
		case c <= 9:
			seen = true
			n.mantissa = n.mantissa*10 + uint64(c)
			if n.mantissa > 0 {
				n.digits++
			}
			if marked {
				n.decimals++
			}
		case cell[i] == mark && !marked:
			marked = true
		case seen && (cell[i] == 'e' || cell[i] == 'E'):
			n.exponent, ok = exponentOf(cell[i+1:])
			return n, ok
		default:
			return n, false
		}
	}
	return n, seen
}

// exponentOf reads a sign and digits, as many as there are: a zero is one with any
// exponent.
func exponentOf(text []byte) (exponent int, ok bool) {
	digits := text
	if len(text) > 0 && (text[0] == '-' || text[0] == '+') {
		digits = text[1:]
	}
	if len(digits) == 0 || len(bytes.Trim(digits, "0123456789")) > 0 {
		return 0, false
	}
	// Of digits only, the only error is that they are too many; then it is the farthest.
	exponent, _ = strconv.Atoi(string(text))
	return min(max(exponent, -farExponent), farExponent), true
}

// value is the number, correctly rounded, and whether it is finite. Up to 15
// digits and powers of ten up to 22 are exact in a float64, so that one operation
// rounds once; all else is left to strconv.
func (n recordNumber) value() (v float64, finite bool) {
	const exactDigits, exactPower = 15, 22
	power := n.exponent - n.decimals
	if n.digits > exactDigits || power < -exactPower || power > exactPower {
		v, err := strconv.ParseFloat(string(bytes.Replace(n.text, []byte{','}, []byte{'.'}, 1)), 64)
		return v, err == nil
	}
	v = float64(n.mantissa)
	if power < 0 {
		v /= math.Pow10(-power)
	} else {
		v *= math.Pow10(power)
	}
	if n.negative {
		v = -v
	}
	return v, true
}

// printedStep is what one step of the last printed digit is worth: 0.01 for
// "1.25", 1e-8 for "1.25e-6". A zero with an exponent or without decimals is
// exact: its digits say nothing.
func (n recordNumber) printedStep() float64 {
	if n.digits == 0 && (n.decimals == 0 || bytes.ContainsAny(n.text, "eE")) {
		return 0
	}
	return math.Pow10(n.exponent - n.decimals)
}

// number reads a cell as a finite number.
func (d recordDialect) number(cell []byte) (value float64, ok bool) {
	n, ok := d.scanNumber(cell)
	if !ok {
		return 0, false
	}
	return n.value()
}

// notFinite tells whether a cell says that there is no figure.
func notFinite(cell []byte) bool {
	word := bytes.TrimLeft(cell, "+-")
	for _, none := range []string{"nan", "inf", "infinity"} {
		if bytes.EqualFold(word, []byte(none)) {
			return true
		}
	}
	return false
}
