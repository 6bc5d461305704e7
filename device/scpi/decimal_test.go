package scpi

import (
	"errors"
	"math"
	"math/big"
	"strconv"
	"strings"
	"testing"
)

func TestParseDecimal(t *testing.T) {
	cases := []struct {
		text, prints, source string
		value, resolution    float64
	}{
		{"273", "273", "S-30, NR1", 273, 1},
		{"0.273", "0.273", "S-30, NR2", 0.273, 0.001},
		{"2.73E+2", "273", "S-30, NR3", 273, 1},
		{"+1.23456789E+00", "1.23456789", "S-74", 1.23456789, 1e-8},
		{"5.01210000E+00", "5.01210000", "trailing zeros tell the resolution; ours", 5.0121, 1e-8},
		{"1.", "1", "IEEE 488.2, 7.7.2", 1, 1},
		{".5", "0.5", "IEEE 488.2, 7.7.2", 0.5, 0.1},
		{"-.5e-3", "-0.0005", "IEEE 488.2, 7.7.2", -0.0005, 0.0001},
		{"000", "0", "leading zeros are no digits; S-18", 0, 1},
		{"0.000", "0.000", "zero with a resolution; ours", 0, 0.001},
		{"-0.0", "-0.0", "minus zero", math.Copysign(0, -1), 0.1},
		{"-1.00213E-9", "-1.00213E-9", "S-30, NR3", -1.00213e-9, 1e-14},
		{"-1.00213E-19", "-1.00213E-19", "S-30, NR3", -1.00213e-19, 1e-24},
		{"12E3", "1.2E4", "S-30, NR3", 12000, 1000},
		{"9223372036854775807", "9223372036854775807", "largest int64", math.MaxInt64, 1},
		{"9223372036854775808", "9223372036854775808", "above the largest int64", -math.MinInt64, 1},
		{"-9223372036854775808", "-9223372036854775808", "smallest int64", math.MinInt64, 1},
		{"-1234567890123456789012345.5", "-1234567890123456789012345.5", "S-18, many digits", -1234567890123456789012345.5, 0.1},
		{"1E-32000", "1E-32000", "S-18, on the limit", 0, 0},
		{"1E32000", "1E32000", "S-18, on the limit", math.Inf(1), math.Inf(1)},
		{strings.Repeat("9", 255) + "E32000", strings.Repeat("9", 255) + "E32000", "S-18, on the limits", math.Inf(1), math.Inf(1)},
		{strings.Repeat("9", 255), strings.Repeat("9", 255), "S-18, on the limit", 1e255, 1},
	}
	for _, c := range cases {
		d, err := ParseDecimal(c.text)
		if err != nil {
			t.Errorf("%s (%s): %v", c.text, c.source, err)
			continue
		}
		if d.String() != c.prints || !d.Known() {
			t.Errorf("%s (%s): prints %s, want %s", c.text, c.source, d, c.prints)
		}
		if got := d.Float64(); got != c.value || math.Signbit(got) != math.Signbit(c.value) {
			t.Errorf("%s (%s): %v, want %v", c.text, c.source, got, c.value)
		}
		if got := d.Resolution(); got != c.resolution {
			t.Errorf("%s (%s): resolution %v, want %v", c.text, c.source, got, c.resolution)
		}
	}
}

func TestParseDecimalRefuses(t *testing.T) {
	for _, text := range []string{
		"", " ", "+", "-", ".", "E3", "1E", "1E+", "1 E3", " 1", "1 ", "1.2.3", "1-2", "+-1", "-+1", "--1", "1E3E3", "1Ee3",
		"1E1.5", "0x1F", "1_000", "1,5", "OL", "inf", "NaN", "1E32001", "1E-32001", "0.1E-32000", "1E99999999999",
		strings.Repeat("9", 256), "٣", "1\x00",
	} {
		if d, err := ParseDecimal(text); !errors.Is(err, ErrNotNumber) || d.Known() {
			t.Errorf("%q: got %v, error %v", text, d, err)
		}
	}
}

func TestDecimalUnknown(t *testing.T) {
	var none Decimal
	if none.Known() || none.String() != "" || !math.IsNaN(none.Float64()) || none.Resolution() != 0 || none.Scaled(3).Known() {
		t.Errorf("the zero Decimal must be no number: %q %v", none, none.Float64())
	}
	if _, _, ok := none.Parts(); ok {
		t.Error("the zero Decimal has no parts")
	}
	if NewDecimal(1, 32001).Known() || NewDecimal(1, math.MinInt32).Known() {
		t.Error("an exponent that cannot be read back must not be known")
	}
}

func TestDecimalScaled(t *testing.T) {
	cases := []struct {
		text, want string
		power      int
	}{
		{"5012.1", "5.0121", -3},
		{"4.70", "4.70E3", 3},
		{"4.7", "4.7E3", 3},
		{"0", "0.000", -3},
		{"12345678901234567890", "12345678901234567.890", -3},
		{"1", "", 32001},
		{"1", "", math.MaxInt},
		{"1E32000", "1E-32000", -64000},
	}
	for _, c := range cases {
		d, err := ParseDecimal(c.text)
		if got := d.Scaled(c.power).String(); err != nil || got != c.want {
			t.Errorf("%s times ten to %d: %q, want %q (%v)", c.text, c.power, got, c.want, err)
		}
	}
}

func TestDecimalParts(t *testing.T) {
	for _, c := range []struct {
		text        string
		coefficient int64
		exponent    int32
		ok          bool
	}{
		{"5.0121", 50121, -4, true},
		{"-7E3", -7, 3, true},
		{"0.00", 0, -2, true},
		{"-0.00", 0, -2, false},
		{"9223372036854775808", 0, 0, false},
	} {
		d, _ := ParseDecimal(c.text)
		coefficient, exponent, ok := d.Parts()
		if coefficient != c.coefficient || exponent != c.exponent || ok != c.ok {
			t.Errorf("%s: %d, %d, %v", c.text, coefficient, exponent, ok)
		}
		if ok && NewDecimal(coefficient, exponent) != d {
			t.Errorf("%s: its parts make another Decimal", c.text)
		}
	}
}

// FuzzParseDecimal holds Decimal against math/big and strconv, and its print
// against its parser.
func FuzzParseDecimal(f *testing.F) {
	for _, seed := range []string{"5.0121", "-1.00213E-9", "+9.91000E+37", "0.000", "-0", "1E-32000", "9223372036854775808", "1.E5", ".5e3", "123456789012345678e-12"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		d, err := ParseDecimal(text)
		if err != nil {
			if !errors.Is(err, ErrNotNumber) {
				t.Fatalf("%q: %v", text, err)
			}
			return
		}
		again, err := ParseDecimal(d.String())
		if err != nil || again != d {
			t.Fatalf("%q prints %q, which reads as %+v, %v", text, d, again, err)
		}
		want, err := strconv.ParseFloat(text, 64)
		if err != nil && !errors.Is(err, strconv.ErrRange) {
			t.Fatalf("%q is a Decimal and not a float: %v", text, err)
		}
		if got := d.Float64(); got != want || math.Signbit(got) != math.Signbit(want) {
			t.Fatalf("%q: %v, want %v", text, got, want)
		}
		if len(text) > 40 || d.exponent > 300 || d.exponent < -300 {
			return // an exact quotient would be large
		}
		exact, _ := new(big.Rat).SetString(text)
		printed, _ := new(big.Rat).SetString(d.String())
		if exact.Cmp(printed) != 0 {
			t.Fatalf("%q prints %q", text, d)
		}
	})
}

func BenchmarkParseDecimal(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		d, err := ParseDecimal("+5.01210000E+00")
		if err != nil || d.Float64() == 0 {
			b.Fatal(d, err)
		}
	}
}
