package simbench

import (
	"strconv"
	"strings"
)

// multipliers are the suffix multipliers of IEEE 488.2, 7.7.3, as powers of ten.
var multipliers = map[string]int{
	"EX": 18, "PE": 15, "T": 12, "G": 9, "MA": 6, "K": 3, "": 0,
	"M": -3, "U": -6, "N": -9, "P": -12, "F": -15, "A": -18,
}

// want refuses any other number of parameters than from low to high.
func (c *call) want(low, high int) error {
	switch {
	case len(c.args) < low:
		return failure(-109, c.header)
	case len(c.args) > high:
		return failure(-108, c.header)
	}
	return nil
}

// decimal reads parameter i: a decimal with an optional suffix of the given unit,
// or MINimum, MAXimum, DEFault (which stands for the middle argument of limits:
// low, default, high). What is outside low and high is -222.
func (c *call) decimal(i int, unit string, low, normal, high float64) (float64, error) {
	switch strings.ToUpper(c.args[i]) {
	case "MIN", "MINIMUM":
		return low, nil
	case "MAX", "MAXIMUM":
		return high, nil
	case "DEF", "DEFAULT":
		return normal, nil
	}
	v, err := parseNumber(c.args[i], unit)
	if err != nil {
		return 0, err
	}
	if !(v >= low && v <= high) {
		return 0, failure(-222, c.args[i])
	}
	return v, nil
}

// parseNumber reads a decimal and its suffix.
func parseNumber(text, unit string) (float64, error) {
	end := 0
	for end < len(text) && strings.IndexByte("+-.0123456789", text[end]) >= 0 {
		end++
	}
	if end == 0 {
		return 0, failure(-104, text)
	}
	if rest := text[end:]; rest != "" && (rest[0] == 'e' || rest[0] == 'E') {
		if n := exponentLength(rest); n > 0 {
			end += n
		}
	}
	if end > 255 {
		return 0, failure(-124, "")
	}
	v, err := strconv.ParseFloat(text[:end], 64)
	if err != nil {
		if strings.Contains(err.Error(), "range") {
			return 0, failure(-123, text)
		}
		return 0, failure(-121, text)
	}
	return scaled(v, strings.ToUpper(strings.TrimFunc(text[end:], white)), unit)
}

// exponentLength is how much of rest is an exponent; 0 if E begins a suffix.
func exponentLength(rest string) int {
	n := 1
	if n < len(rest) && (rest[n] == '+' || rest[n] == '-') {
		n++
	}
	from := n
	for n < len(rest) && rest[n] >= '0' && rest[n] <= '9' {
		n++
	}
	if n == from {
		return 0
	}
	return n
}

// scaled applies a suffix: the unit with a multiplier before it. MOHM and MHZ
// mean mega.
func scaled(v float64, suffix, unit string) (float64, error) {
	if suffix == "" {
		return v, nil
	}
	multiplier, ok := strings.CutSuffix(suffix, unit)
	if unit == "" || !ok {
		return 0, failure(-131, suffix)
	}
	power, ok := multipliers[multiplier]
	if !ok {
		return 0, failure(-131, suffix)
	}
	if multiplier == "M" && (unit == "OHM" || unit == "HZ") {
		power = 6
	}
	factor, err := strconv.ParseFloat("1e"+strconv.Itoa(power), 64)
	if err != nil {
		return 0, failure(-131, suffix)
	}
	return v * factor, nil
}

// word reads parameter i as one of the given words, each as manuals print it,
// and returns which.
func (c *call) word(i int, words ...string) (int, error) {
	for n, w := range words {
		k := keyword{long: strings.ToUpper(w), short: strings.TrimRightFunc(w, func(r rune) bool { return r >= 'a' && r <= 'z' })}
		if _, ok := k.matches(c.args[i]); ok {
			return n, nil
		}
	}
	return 0, failure(-224, c.args[i])
}

// onOff reads parameter i as ON, OFF, 1 or 0.
func (c *call) onOff(i int) (bool, error) {
	n, err := c.word(i, "OFF", "ON", "0", "1")
	return n%2 == 1, err
}

// channels reads parameter i as a channel list: (@101), (@101,103), (@101:104).
func (c *call) channels(i int) ([]int, error) {
	text := strings.ReplaceAll(c.args[i], " ", "")
	inner, ok := strings.CutPrefix(text, "(@")
	inner, closed := strings.CutSuffix(inner, ")")
	if !ok || !closed {
		return nil, failure(-171, text)
	}
	var out []int
	for part := range strings.SplitSeq(inner, ",") {
		first, last, isRange := strings.Cut(part, ":")
		if !isRange {
			last = first
		}
		a, errA := strconv.Atoi(first)
		b, errB := strconv.Atoi(last)
		if errA != nil || errB != nil || a < 1 || b < a || b-a > 1000 || len(out) > 1000 {
			return nil, failure(-171, text)
		}
		for n := a; n <= b; n++ {
			out = append(out, n)
		}
	}
	return out, nil
}
