package device

import (
	"bytes"
)

// recordSeconds and recordVolts are what units in a header are worth.
var (
	recordSeconds = map[string]float64{
		"s": 1, "sec": 1, "second": 1, "seconds": 1,
		"ms": 1e-3, "millisecond": 1e-3, "milliseconds": 1e-3,
		"us": 1e-6, "µs": 1e-6, "μs": 1e-6, "microsecond": 1e-6, "microseconds": 1e-6,
		"ns": 1e-9, "nanosecond": 1e-9, "nanoseconds": 1e-9,
		"ps": 1e-12, "picosecond": 1e-12, "picoseconds": 1e-12,
	}
	recordVolts = map[string]float64{
		"v": 1, "volt": 1, "volts": 1, "kv": 1e3,
		"mv": 1e-3, "millivolt": 1e-3, "millivolts": 1e-3,
		"uv": 1e-6, "µv": 1e-6, "μv": 1e-6, "microvolt": 1e-6, "microvolts": 1e-6,
	}
)

// scale is what one unit of a column is worth: by the column's titles, else by
// the first setting whose key begins with one of the keys, else 1.
func (h recordHeader) scale(column int, worth map[string]float64, keys ...string) float64 {
	scale, _ := h.scaleOf(column, worth, keys...)
	return scale
}

// scaleOf is scale, and whether the header says it.
func (h recordHeader) scaleOf(column int, worth map[string]float64, keys ...string) (scale float64, said bool) {
	titles := h.titles(column)
	for _, key := range keys {
		for _, plural := range []string{"", "s"} {
			titles = append(titles, headerText(h.settings[key+plural]))
		}
	}
	for _, title := range titles {
		words := headerWords(title)
		for i := len(words) - 1; i >= 0; i-- {
			if scale, ok := worth[words[i]]; ok {
				return scale, true
			}
		}
	}
	return 1, false
}

// counts tells whether a column's title says that it counts the samples.
func (h recordHeader) counts(column int) bool {
	for _, title := range h.titles(column) {
		switch settingKey([]byte(title)) {
		case "sequence", "index", "sample", "samples", "sample number", "no", "n", "point", "points":
			return true
		}
	}
	return false
}

// interval is the sample interval in seconds that the header states, if it does.
func (h recordHeader) interval() (seconds float64, found bool) {
	for _, key := range []string{"sample interval", "sampling interval", "sample period", "sampling period", "x increment", "xincrement", "increment"} {
		if v, ok := h.setting(key); ok {
			return v, true
		}
	}
	for _, key := range []string{"sample rate", "sampling rate", "sample frequency", "sampling frequency"} {
		if v, ok := h.setting(key); ok {
			return 1 / v, true
		}
	}
	return 0, false
}

// setting is a setting's figure, above 0, perhaps with its unit spelled out in the
// key ("Sample Interval (s)"), or the figure below the title of that name.
func (h recordHeader) setting(key string) (float64, bool) {
	for _, form := range []string{key, key + " s", key + " hz"} {
		if v, ok := h.dialect.number(h.settings[form]); ok && v > 0 {
			return v, true
		}
	}
	if len(h.rows) < 2 {
		return 0, false
	}
	names, below := h.rows[len(h.rows)-2], h.rows[len(h.rows)-1]
	for i, name := range names {
		if settingKey(name) == key && i < len(below) {
			if v, ok := h.dialect.number(below[i]); ok && v > 0 {
				return v, true
			}
		}
	}
	return 0, false
}

// coupling is "dc", "ac" or empty where the header does not say.
func (h recordHeader) coupling() string {
	for _, key := range []string{"coupling", "vertical coupling", "channel coupling", "input coupling"} {
		switch value := bytes.ToLower(h.settings[key]); string(value) {
		case "dc", "ac":
			return string(value)
		}
	}
	return ""
}
