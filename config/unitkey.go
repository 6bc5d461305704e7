package config

import (
	"fmt"
	"strconv"
	"strings"

	"soakline/device"
)

// prefixes are the SI prefixes that a key's unit may be mistaken with, as powers
// of ten (BIPM, SI Brochure 9th ed., table 7); "" is the unit itself.
var prefixes = map[string]int{"p": -12, "n": -9, "u": -6, "m": -3, "": 0, "k": 3, "meg": 6}

// quantity reads a number whose key ends in the measure's unit: stem "low" of a
// voltage is the key low_v. A key with the stem and another ending is reported
// with what to write instead. With an unknown measure any ending is let pass: the
// measure is reported already, and nothing can be said of the ending.
func (s *section) quantity(stem string, m device.Measure, n need, otherwise float64) float64 {
	if !m.Known() {
		for _, key := range s.keys() {
			if _, ok := strings.CutPrefix(key, stem+"_"); ok {
				s.odd[key] = true
			}
		}
		return otherwise
	}
	right := stem + m.Unit().KeySuffix
	strays := s.strays(stem, right)
	for _, key := range strays {
		s.odd[key] = true
		s.wrong(key, "%s", s.advice(key, stem, right, m))
	}
	if len(strays) > 0 && !s.has(right) {
		n = optional
	}
	return s.number(right, n, otherwise)
}

// strays are the section's keys that name the stem with another unit or none.
func (s *section) strays(stem, right string) []string {
	var all []string
	for _, key := range s.keys() {
		ending, ok := strings.CutPrefix(key, stem)
		if ok && key != right && (ending == "" || isUnitEnding(ending)) {
			all = append(all, key)
		}
	}
	return all
}

// isUnitEnding tells an ending such as _v, _mv or _pct from a slip of the pen.
func isUnitEnding(ending string) bool {
	if ending == "_pct" {
		return true
	}
	for _, m := range device.Measures() {
		if _, ok := scaledEnding(ending, m.Unit()); ok {
			return true
		}
	}
	return false
}

// scaledEnding returns the power of ten between an ending and the unit it scales:
// -3 for _mv of a voltage.
func scaledEnding(ending string, u device.Unit) (power int, ok bool) {
	unit := strings.TrimPrefix(u.KeySuffix, "_")
	prefix, ok := strings.CutSuffix(strings.TrimPrefix(ending, "_"), unit)
	if !ok {
		return 0, false
	}
	power, ok = prefixes[prefix]
	return power, ok
}

// advice says what to write instead of a key with the wrong unit, with the figure
// converted where it can be.
func (s *section) advice(key, stem, right string, m device.Measure) string {
	ending := strings.TrimPrefix(key, stem)
	power, scaled := scaledEnding(ending, m.Unit())
	if ending == "_pct" && m.Unit().KeySuffix == device.Ratio.KeySuffix {
		power, scaled = -2, true
	}
	unit := strings.TrimSuffix(m.Unit().Plural, "s") + "s"
	if m.Unit() == device.Hertz || m.Unit() == device.Celsius {
		unit = m.Unit().Plural
	}
	switch m.Unit() {
	case device.Ratio:
		unit = "a ratio (0.04 is 4 %)"
	case device.Factor:
		unit = "a ratio (1.122 is 1 dB)"
	}
	sentence := fmt.Sprintf("%s is given in %s: write %s", m, unit, right)
	if m.Unit().KeySuffix == device.Ratio.KeySuffix {
		sentence = fmt.Sprintf("%s is given as %s: write %s", m, unit, right)
	}
	if v := s.find(key); scaled && v != nil && notNumber(v) == "" {
		sentence += converted(v.Value, power)
	}
	return sentence
}

// converted spells a number times a power of ten, with the digits given where the
// plain form would be an exponent of another kind: 85 nanoseconds are 85e-9.
func converted(digits string, power int) string {
	scaled := digits + "e" + strconv.Itoa(power)
	f, err := strconv.ParseFloat(scaled, 64)
	if err != nil {
		return "" // the digits have an exponent already
	}
	if text := strconv.FormatFloat(f, 'g', -1, 64); !strings.Contains(text, "e") {
		return ": " + text
	}
	return ": " + scaled
}
