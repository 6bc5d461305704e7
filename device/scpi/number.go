package scpi

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Class says whether a number can be a reading. The zero Class is none of them.
type Class uint8

// The classes of numbers (SCPI-1999, vol. 1, 7.2.1.4 and 7.2.1.5; S-32 to S-36).
const (
	Finite           Class = iota + 1
	PositiveInfinity       // 9.9E37 and anything above: an overflow
	NegativeInfinity       // -9.9E37 and anything below
	NotANumber             // 9.91E37
)

// Number is one number as an instrument sent it. Only a Finite one is a reading.
type Number struct {
	// Digits are the digits sent, also those of 9.9E37; not known for words.
	Digits Decimal
	// Value is an infinity or NaN where Class says so.
	Value float64
	Class Class
}

// The errors of displays that show no number. Both are also ErrNotNumber.
var (
	// ErrOverload says that the instrument shows an overload in words ("OL").
	ErrOverload = fmt.Errorf("overload shown in words, %w", ErrNotNumber)
	// ErrBlank says that the instrument shows no reading: "----" or nothing.
	ErrBlank = fmt.Errorf("no reading shown, %w", ErrNotNumber)
)

// ParseNumber reads one number of a message in any legal spelling, white space
// around it allowed: NR1, NR2, NR3 and NRf (IEEE 488.2, 7.7.2 and 8.7.2 to 8.7.4),
// #H, #Q and #B (7.7.4), and the words of SCPI for infinities and NaN. It fails
// with ErrNotNumber, and with ErrOverload or ErrBlank for displays without one.
func ParseNumber(text string) (Number, error) {
	trimmed := strings.Trim(text, " \t")
	if strings.HasPrefix(trimmed, "#") {
		return parseNonDecimal(trimmed)
	}
	digits, err := ParseDecimal(closeExponent(trimmed))
	if err != nil {
		return parseWord(trimmed, err)
	}
	value := digits.Float64()
	class := ClassOf(value)
	return Number{Digits: digits, Value: class.value(value), Class: class}, nil
}

const (
	infinityMark = 9.9e37
	notANumber   = 9.91e37
	// markTolerance takes in 9.9E37 after a float32, which is 9.8999998E37.
	markTolerance = 1e-6
)

// ClassOf sorts a value by the special numbers: every magnitude from 9.9E37 up is
// no reading (S-36). NaN and infinities keep their class.
func ClassOf(value float64) Class {
	switch {
	case math.IsNaN(value), math.Abs(value-notANumber) <= notANumber*markTolerance:
		return NotANumber
	case value >= infinityMark*(1-markTolerance):
		return PositiveInfinity
	case value <= -infinityMark*(1-markTolerance):
		return NegativeInfinity
	default:
		return Finite
	}
}

// value is what a number of class c is worth, of which finite is the plain value.
func (c Class) value(finite float64) float64 {
	switch c {
	case PositiveInfinity:
		return math.Inf(1)
	case NegativeInfinity:
		return math.Inf(-1)
	case Finite:
		return finite
	default:
		return math.NaN()
	}
}

// String names the class for a person.
func (c Class) String() string {
	switch c {
	case Finite:
		return "finite"
	case PositiveInfinity:
		return "positive overflow"
	case NegativeInfinity:
		return "negative overflow"
	case NotANumber:
		return "not a number"
	default:
		return "unknown"
	}
}

// closeExponent takes away the white space that program data may have on either
// side of the E (IEEE 488.2, 7.7.2.2, from memory).
func closeExponent(text string) string {
	if strings.IndexByte(text, ' ') < 0 {
		return text
	}
	e := strings.IndexAny(text, "eE")
	if e < 0 {
		return text
	}
	return strings.TrimRight(text[:e], " ") + "E" + strings.TrimLeft(text[e+1:], " ")
}

// radix is the base behind each letter of a non-decimal number (S-19).
var radix = map[byte]int{'H': 16, 'h': 16, 'Q': 8, 'q': 8, 'B': 2, 'b': 2}

// parseNonDecimal reads #H1F, #Q17 and #B101, up to 64 bits.
func parseNonDecimal(text string) (Number, error) {
	if len(text) < 3 || radix[text[1]] == 0 {
		return Number{}, fmt.Errorf("%q: %w", text, ErrNotNumber)
	}
	value, err := strconv.ParseUint(text[2:], radix[text[1]], 64)
	if err != nil {
		return Number{}, fmt.Errorf("%q: %w", text, ErrNotNumber)
	}
	digits, err := ParseDecimal(strconv.FormatUint(value, 10))
	return Number{Digits: digits, Value: float64(value), Class: Finite}, err
}

// words are the numbers that are spelled (SCPI-1999, vol. 1, 7.2.1, from memory).
var words = map[string]Class{
	"INF": PositiveInfinity, "INFINITY": PositiveInfinity, "+INF": PositiveInfinity, "+INFINITY": PositiveInfinity,
	"NINF": NegativeInfinity, "NINFINITY": NegativeInfinity, "-INF": NegativeInfinity, "-INFINITY": NegativeInfinity,
	"NAN": NotANumber,
}

// overloads are what displays show beyond their range (S-37: "OL"; the others
// are common practice, no source).
var overloads = map[string]bool{"OL": true, "O.L": true, "O.L.": true, "0L": true, "OVLD": true, "OVER": true, "OVERFLOW": true, "OVERLOAD": true}

// parseWord reads a number that is spelled; failing, it says what the text is.
func parseWord(text string, otherwise error) (Number, error) {
	upper := strings.ToUpper(text)
	if class, ok := words[upper]; ok {
		return Number{Value: class.value(0), Class: class}, nil
	}
	switch {
	case strings.Trim(text, "-") == "":
		return Number{}, fmt.Errorf("%q: %w", text, ErrBlank)
	case overloads[strings.TrimLeft(upper, "+-")]:
		return Number{}, fmt.Errorf("%q: %w", text, ErrOverload)
	}
	return Number{}, otherwise
}
