package parts

import (
	"math"
	"strings"
	"testing"
)

func TestParseQuantityAsWritten(t *testing.T) {
	tests := []struct {
		text   string
		unit   Unit
		want   float64
		source string
	}{
		{"4k7", Ohm, 4700, "IEC 60062 clause 5"},
		{"R47", Ohm, 0.47, "IEC 60062 clause 5"},
		{"0R1", Ohm, 0.1, "common practice, no source"},
		{"R10", Ohm, 0.1, "IEC 60062 clause 5"},
		{"1R0", Ohm, 1, "IEC 60062 clause 5"},
		{"75R", Ohm, 75, "IEC 60062 clause 5"},
		{"2M2", Ohm, 2.2e6, "IEC 60062 clause 5"},
		{"10K", Ohm, 10e3, "IEC 60062 clause 5"},
		{"4L7", Ohm, 4.7e-3, "IEC 60062:2016, value from memory"},
		{"1n5", Farad, 1.5e-9, "IEC 60062 clause 5"},
		{"820p", Farad, 820e-12, "IEC 60062 clause 5"},
		{"p33", Farad, 0.33e-12, "IEC 60062 clause 5"},
		{"4µ7", Farad, 4.7e-6, "IEC 60062 clause 5; micro sign"},
		{"4μ7", Farad, 4.7e-6, "Greek mu looks the same"},
		{"4u7", Farad, 4.7e-6, "common practice, no source"},
		{"3F3", Farad, 3.3, "IEC 60062 clause 5"},
		{"10m", Farad, 10e-3, "IEC 60062 clause 5"},
		{"5V1", Volt, 5.1, "common practice, no source"},
		{"75", Ohm, 75, "plain SI number"},
		{"4.7e-6", Farad, 4.7e-6, "plain SI number"},
		{"4.7E-6 F", Farad, 4.7e-6, "plain SI number"},
		{"100n", Farad, 100e-9, "SI prefix"},
		{"100 nF", Farad, 100e-9, "SI prefix"},
		{"4.7 kohm", Ohm, 4700, "SI prefix"},
		{"4.7kΩ", Ohm, 4700, "SI prefix"},
		{"4.43361875 MHz", Hertz, 4433618.75, "V-40, ITU-R BT.470-6"},
		{".5A", Ampere, 0.5, "plain SI number"},
		{"-0.3", Volt, -0.3, "plain SI number"},
		{" 140 ns ", Second, 140e-9, "SI prefix"},
		{"104", Farad, 104, "three-figure codes are not taken"},
		{"0", Ohm, 0, "plain SI number"},
		{"1e308", Ohm, 1e308, "plain SI number"},
	}
	for _, tt := range tests {
		got, err := ParseQuantity(tt.text, tt.unit)
		if err != nil || got != tt.want {
			t.Errorf("%q: %v, %v; want %v (%s)", tt.text, got, err, tt.want, tt.source)
		}
	}
}

func TestParseQuantityRefusesAndSaysWhy(t *testing.T) {
	tests := []struct {
		text string
		unit Unit
		why  string
	}{
		{"", Ohm, "empty"},
		{"  ", Ohm, "empty"},
		{"4,7k", Ohm, "point"},
		{"k", Ohm, "no digits"},
		{"F", Farad, "no digits"},
		{"-", Volt, "no digits"},
		{".", Volt, "no digits"},
		{"4k7k", Ohm, "not understood"},
		{"4.7k5", Ohm, "a point and a letter"},
		{"4..7", Ohm, "a point and a letter"},
		{"75ohm", Farad, "not understood"},
		{"100nF", Ohm, "not understood"},
		{"4k7J", Ohm, "not understood"},
		{"100M", Farad, "write u for micro"},
		{"4x7", Ohm, "no prefix"},
		{"4R7", Farad, "no prefix"},
		{"1e3k", Ohm, "after an exponent"},
		{"1e", Ohm, "exponent"},
		{"1e999999999999999999999", Ohm, "exponent"},
		{"1e400", Ohm, "out of range"},
		{"1e308k", Ohm, "after an exponent"},
		{"NaN", Volt, "not understood"},
		{"nan", Volt, "not understood"},
		{"inf", Volt, "not understood"},
		{"0x10", Ohm, "no prefix"},
		{"1_000", Ohm, "no prefix"},
		{"4k7\n8", Ohm, "not understood"},
		{"4k\xff", Ohm, "not understood"},
	}
	for _, tt := range tests {
		got, err := ParseQuantity(tt.text, tt.unit)
		if err == nil {
			t.Errorf("%q was read as %v %s", tt.text, got, tt.unit)
		} else if !strings.Contains(err.Error(), tt.why) {
			t.Errorf("%q: %q does not say %q", tt.text, err, tt.why)
		}
	}
}

func TestCode(t *testing.T) {
	tests := []struct {
		value float64
		unit  Unit
		want  string
	}{
		{4700, Ohm, "4k7"}, {75, Ohm, "75R"}, {0.47, Ohm, "R47"}, {0.047, Ohm, "R047"},
		{4.7, Ohm, "4R7"}, {1e6, Ohm, "1M"}, {2.2e6, Ohm, "2M2"}, {100, Ohm, "100R"},
		{0, Ohm, "0R"}, {0, Farad, "0F"}, {-4700, Ohm, "-4k7"}, {49.9, Ohm, "49R9"},
		{1.5e-9, Farad, "1n5"}, {820e-12, Farad, "820p"}, {4.7e-6, Farad, "4µ7"},
		{1000e-6, Farad, "1m"}, {3.3, Farad, "3F3"}, {0.33e-12, Farad, "p33"},
		{1e-20, Farad, "1e-20"}, {1e20, Ohm, "1e+20"}, {1500, Hertz, "1500"},
		{math.NaN(), Ohm, "NaN"}, {math.Inf(1), Ohm, "+Inf"},
	}
	for _, tt := range tests {
		if got := Code(tt.value, tt.unit); got != tt.want {
			t.Errorf("Code(%v, %s) = %q, want %q", tt.value, tt.unit, got, tt.want)
		}
	}
}

func TestFigure(t *testing.T) {
	tests := []struct {
		value  float64
		unit   Unit
		digits int
		want   string
	}{
		{2257.9, Hertz, 4, "2.258 kHz"}, {999.96, Hertz, 4, "1.000 kHz"}, {4.7e-6, Farad, 2, "4.7 µF"},
		{0.35, Volt, 3, "350 mV"}, {-0.3, Volt, 3, "-300 mV"}, {0, Volt, 3, "0 V"}, {123456, Ohm, 2, "120 kohm"}, {0.0022, Farad, 4, "2200 µF"}, {1.5, Farad, 2, "1.5 F"},
		{1e-17, Farad, 2, "0.010 fF"}, {1e15, Ohm, 4, "1000 Tohm"}, {75, Ohm, 0, "80 ohm"},
		{-3.0103, Decibel, 4, "-3.01 dB"}, {-0.0001, Decibel, 4, "0.00 dB"}, {0.5, Ratio, 4, "0.5000"}, {38.43, Percent, 4, "38.4 %"},
		{math.NaN(), Volt, 3, "not known"}, {math.Inf(1), Ohm, 3, "no limit"},
	}
	for _, tt := range tests {
		if got := Figure(tt.value, tt.unit, tt.digits); got != tt.want {
			t.Errorf("Figure(%v, %s, %d) = %q, want %q", tt.value, tt.unit, tt.digits, got, tt.want)
		}
	}
}

// FuzzParseQuantity holds that nothing crashes, that what is read is finite, and
// that what is written is read back as the same number.
func FuzzParseQuantity(f *testing.F) {
	for _, seed := range []string{"4k7", "1n5", "820p", "R47", "0R1", "2M2", "4µ7", "75", "4.7e-6", "100n", "-1e", "\u2126", "p"} {
		f.Add(seed)
	}
	units := []Unit{Ohm, Farad, Hertz, Volt, Ampere, Second, Watt}
	f.Fuzz(func(t *testing.T, text string) {
		for _, unit := range units {
			value, err := ParseQuantity(text, unit)
			if err != nil {
				continue
			}
			if math.IsNaN(value) || math.IsInf(value, 0) {
				t.Fatalf("%q was read as %v", text, value)
			}
			again, err := ParseQuantity(Code(value, unit), unit)
			if err != nil || again != value {
				t.Fatalf("%q is %v, written %q, read back as %v, %v", text, value, Code(value, unit), again, err)
			}
		}
	})
}

// FuzzCode holds the round trip for every number, not only for those that people
// type.
func FuzzCode(f *testing.F) {
	for _, seed := range []float64{4700, 0.1, 4.7e-6, 3.3, 1e-13, 9.9e14, 5e-324, 1.7976931348623157e308} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, value float64) {
		if math.IsNaN(value) || math.IsInf(value, 0) {
			return // only finite values have a code
		}
		for _, unit := range []Unit{Ohm, Farad} {
			again, err := ParseQuantity(Code(value, unit), unit)
			if err != nil || again != value {
				t.Fatalf("%v written %q, read back as %v, %v", value, Code(value, unit), again, err)
			}
		}
	})
}
