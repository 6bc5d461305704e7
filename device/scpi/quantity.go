package scpi

import (
	"fmt"
	"strings"
)

// Quantity is a number with a unit suffix.
type Quantity struct {
	Number
	// Power is the power of ten of the suffix's multiplier: -3 for "MV".
	Power int
	// Unit is the unit's symbol: "V", "ohm", "Hz"; empty where none was sent.
	Unit string
}

// suffixUnits are the units that a suffix may name (IEEE 488.2, 7.7.3, from
// memory; those that the bench does not measure are left out).
var suffixUnits = map[string]string{
	"V": "V", "A": "A", "OHM": "ohm", "F": "F", "H": "H", "W": "W", "HZ": "Hz", "S": "s",
	"K": "K", "CEL": "°C", "PCT": "%", "DB": "dB", "DBM": "dBm",
}

// unscaled are the units that take no multiplier.
var unscaled = map[string]bool{"CEL": true, "PCT": true, "DB": true, "DBM": true}

// multipliers are the powers of ten before a unit (S-20; IEEE 488.2, 7.7.3, from
// memory). MA is mega and M is milli.
var multipliers = map[string]int{
	"EX": 18, "PE": 15, "T": 12, "G": 9, "MA": 6, "K": 3,
	"M": -3, "U": -6, "N": -9, "P": -12, "F": -15, "A": -18,
}

// ParseQuantity reads a number with an optional unit suffix, letters in any case:
// "1.5 kOhm" is 1.5, power 3, "ohm". It fails with ErrNotNumber.
func ParseQuantity(text string) (Quantity, error) {
	trimmed := strings.Trim(text, " \t")
	split := numberEnd(trimmed)
	if split == 0 {
		split = len(trimmed) // a word, #H1F, or nothing: no suffix
	}
	power, unit, err := ParseSuffix(trimmed[split:])
	if err != nil {
		return Quantity{}, err
	}
	number, err := ParseNumber(trimmed[:split])
	if err != nil {
		return Quantity{}, err
	}
	return Quantity{Number: number, Power: power, Unit: unit}, nil
}

// ParseSuffix reads a unit suffix, letters in any case: its multiplier's power of
// ten and the unit's symbol. "MHZ" and "MOHM" mean mega, although M is milli
// everywhere else; "MA" is milliampere, because a multiplier needs a unit. It
// fails with ErrNotNumber where the unit is not known.
func ParseSuffix(suffix string) (power int, unit string, err error) {
	upper := strings.ToUpper(strings.Trim(suffix, " \t"))
	switch upper {
	case "":
		return 0, "", nil
	case "MHZ":
		return 6, "Hz", nil
	case "MOHM":
		return 6, "ohm", nil
	}
	if unit, ok := suffixUnits[upper]; ok {
		return 0, unit, nil
	}
	for letters := min(2, len(upper)-1); letters > 0; letters-- {
		power, scales := multipliers[upper[:letters]]
		unit, known := suffixUnits[upper[letters:]]
		if scales && known && !unscaled[upper[letters:]] {
			return power, unit, nil
		}
	}
	return 0, "", fmt.Errorf("unit suffix %q: %w", suffix, ErrNotNumber)
}

// numberEnd is how many bytes of text are a decimal number; an E counts only with
// digits behind it, so that "1EXV" is one exavolt.
func numberEnd(text string) int {
	end := strings.IndexFunc(text, func(r rune) bool { return !strings.ContainsRune("+-.0123456789", r) })
	if end < 0 {
		return len(text)
	}
	if strings.Trim(text[:end], "+-.") == "" {
		return 0
	}
	rest := text[end:]
	exponent := strings.TrimLeft(rest, " ")
	if exponent == "" || exponent[0]|0x20 != 'e' {
		return end
	}
	exponent = strings.TrimLeft(exponent[1:], " ")
	digits := strings.TrimLeft(strings.TrimLeft(exponent, "+-"), "0123456789")
	if len(digits) == len(strings.TrimLeft(exponent, "+-")) {
		return end
	}
	return len(text) - len(digits)
}
