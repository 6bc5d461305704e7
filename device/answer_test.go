package device

import (
	"testing"

	"soakline/device/scpi"
)

func TestFigure(t *testing.T) {
	for _, row := range []struct {
		answer string
		ask    Ask
		digits string // empty where there is no figure
		kind   Kind   // then
		source string
	}{
		{"5.0121", Ask{}, "5.0121", "", "IEEE 488.2, 8.7.3: NR2"},
		{"+5.01210E+00", Ask{}, "5.01210", "", "IEEE 488.2, 8.7.4: NR3"},
		{"7", Ask{}, "7", "", "IEEE 488.2, 8.7.2: NR1"},
		{"5012.1", Ask{ScalePower: -3}, "5.0121", "", "millivolts, exact on the digits"},
		{"1,2,3", Ask{Field: 1}, "2", "", "S-21"},
		{"1,2,3", Ask{}, "1", "", "S-21"},
		{"1;2", Ask{Field: 1}, "2", "", "S-21"},
		{`"a,b",2`, Ask{Field: 1}, "2", "", "IEEE 488.2, 8.7.8: a comma in a string is text"},
		{"1,2,3", Ask{Field: 3}, "", Garbage, "S-21"},
		{`"open,2`, Ask{Field: 1}, "", Garbage, "IEEE 488.2, 8.7.8"},
		{"5.01 V", Ask{Suffix: "V"}, "5.01", "", "common practice, no source"},
		{"5.01VDC", Ask{Suffix: "VDC"}, "5.01", "", "common practice, no source"},
		{"5.01 A", Ask{Suffix: "V"}, "", Garbage, "another unit is another quantity"},
		{"5.01", Ask{Suffix: "V"}, "", Garbage, "a unit that is missing"},
		{"9.9E37", Ask{Suffix: "V"}, "", Overflow, "SCPI-1999, vol. 1, 7.2.1.4"},
		{"-9.9E37", Ask{}, "", Overflow, "SCPI-1999, vol. 1, 7.2.1.4"},
		{"9.91E37", Ask{ScalePower: -3}, "", Overflow, "SCPI-1999, vol. 1, 7.2.1.5: before any scale"},
		{"OL", Ask{Suffix: "V"}, "", Overflow, "S-37"},
		{"----", Ask{}, "", Overflow, "S-37"},
		{"1E37", Ask{ScalePower: 3}, "", Overflow, "beyond what can be told from an overflow"},
		{"5.0.1", Ask{}, "", Garbage, "no number"},
		{"Saltmarsh,M6,S60017,1.4", Ask{}, "", Garbage, "the answer to another question"},
	} {
		reading, err := row.ask.reading(scpi.Answer{Text: row.answer})
		switch {
		case row.digits != "" && (err != nil || reading.Digits.String() != row.digits || reading.Value != reading.Digits.Float64()):
			t.Errorf("%q (%s): %v, %v", row.answer, row.source, reading.Digits, err)
		case row.digits == "" && (err == nil || kindOf(err) != row.kind || reading != Reading{}):
			t.Errorf("%q (%s): %+v, %v, want %s", row.answer, row.source, reading, err, row.kind)
		}
	}
}
