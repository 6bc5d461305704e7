package scpi

import (
	"errors"
	"testing"
)

func TestParseQuantity(t *testing.T) {
	cases := []struct {
		text   string
		value  float64
		power  int
		unit   string
		source string
	}{
		{"5.0121", 5.0121, 0, "", "a suffix may be left out"},
		{"5.0121V", 5.0121, 0, "V", "S-20"},
		{"5012.1 mV", 5012.1, -3, "V", "S-20"},
		{"1.5 kOhm", 1.5, 3, "ohm", "S-20"},
		{"1.5MOHM", 1.5, 6, "ohm", "S-20, the exception"},
		{"4.43MHZ", 4.43, 6, "Hz", "S-20, the exception"},
		{"4.43 mHz", 4.43, 6, "Hz", "S-20, the exception, case-blind"},
		{"4.43MAHZ", 4.43, 6, "Hz", "S-20"},
		{"2MAV", 2, 6, "V", "S-20, MA is mega"},
		{"2MA", 2, -3, "A", "S-20, M is milli; a multiplier needs a unit"},
		{"2MAA", 2, 6, "A", "S-20"},
		{"220 uF", 220, -6, "F", "S-20"},
		{"1FF", 1, -15, "F", "S-20"},
		{"1F", 1, 0, "F", "S-20"},
		{"3AS", 3, -18, "s", "S-20"},
		{"1EXV", 1, 18, "V", "S-20: the E belongs to the multiplier"},
		{"1E3EXV", 1000, 18, "V", "S-20"},
		{"1E3V", 1000, 0, "V", "IEEE 488.2, 7.7.3"},
		{"1 E 3 V", 1000, 0, "V", "IEEE 488.2, 7.7.2.2, from memory"},
		{"1E-3PEHZ", 0.001, 15, "Hz", "S-20"},
		{"23.5 CEL", 23.5, 0, "°C", "IEEE 488.2, 7.7.3, from memory"},
		{"296 K", 296, 0, "K", "IEEE 488.2, 7.7.3, from memory"},
		{"50PCT", 50, 0, "%", "IEEE 488.2, 7.7.3, from memory"},
		{"#HFF", 255, 0, "", "S-19"},
	}
	for _, c := range cases {
		q, err := ParseQuantity(c.text)
		if err != nil || q.Value != c.value || q.Power != c.power || q.Unit != c.unit {
			t.Errorf("%q (%s): %v power %d unit %q, %v", c.text, c.source, q.Value, q.Power, q.Unit, err)
		}
	}
	if q, err := ParseQuantity("9.9E37 V"); err != nil || q.Class != PositiveInfinity {
		t.Errorf("an overflow with a unit is no reading: %v, %v", q, err)
	}
}

func TestParseQuantityRefuses(t *testing.T) {
	for _, text := range []string{"", "V", "mV", "5 X", "5 mm", "5 MPCT", "5 kDB", "5 M", "5 G", "5 V V", "5 V3", "OL V", "5 µV", "-- V", "5.0.1 V", "1E V2"} {
		if q, err := ParseQuantity(text); !errors.Is(err, ErrNotNumber) || q.Class != 0 {
			t.Errorf("%q: %v, %v", text, q, err)
		}
	}
}
