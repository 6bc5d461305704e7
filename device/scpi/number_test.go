package scpi

import (
	"errors"
	"math"
	"testing"
)

func TestParseNumber(t *testing.T) {
	inf, nan := math.Inf(1), math.NaN()
	cases := []struct {
		text   string
		value  float64
		class  Class
		source string
	}{
		{"273", 273, Finite, "S-30, NR1"},
		{" +5.0121E+00 ", 5.0121, Finite, "S-13, white space around"},
		{"1.5 E 3", 1500, Finite, "IEEE 488.2, 7.7.2.2, from memory"},
		{"1.5e +3", 1500, Finite, "IEEE 488.2, 7.7.2.2, from memory"},
		{"#HFF", 255, Finite, "S-19; IEEE 488.2, 7.7.4"},
		{"#q17", 15, Finite, "S-19"},
		{"#B101", 5, Finite, "S-19"},
		{"#hffffffffffffffff", math.MaxUint64, Finite, "S-19, 64 bits"},
		{"9.9E37", inf, PositiveInfinity, "S-32"},
		{"+9.9e37", inf, PositiveInfinity, "S-35"},
		{"99E36", inf, PositiveInfinity, "S-32, NRf"},
		{"-9.9E37", -inf, NegativeInfinity, "S-33"},
		{"9.91E37", nan, NotANumber, "S-34"},
		{"9.91000E+37", nan, NotANumber, "S-35"},
		{"-9.91000E+37", -inf, NegativeInfinity, "S-33, S-35"},
		{"-9.91E37", -inf, NegativeInfinity, "S-33"},
		{"9.90001E37", inf, PositiveInfinity, "S-36, above 9.9E37"},
		{"9.89E37", 9.89e37, Finite, "S-36, just below"},
		{"-9.89E37", -9.89e37, Finite, "S-36, just below"},
		{"1E38", inf, PositiveInfinity, "S-37"},
		{"1E400", inf, PositiveInfinity, "S-36, beyond float64"},
		{"9.8999998E37", inf, PositiveInfinity, "9.9E37 printed from a float32; derived"},
		{"9.9099997E37", nan, NotANumber, "9.91E37 printed from a float32; derived"},
		{"INF", inf, PositiveInfinity, "SCPI-1999, vol. 1, 7.2.1.4, from memory"},
		{"-infinity", -inf, NegativeInfinity, "SCPI-1999, vol. 1, 7.2.1.4, from memory"},
		{"NINF", -inf, NegativeInfinity, "SCPI-1999, vol. 1, 7.2.1.4, from memory"},
		{"nan", nan, NotANumber, "SCPI-1999, vol. 1, 7.2.1.5, from memory"},
	}
	for _, c := range cases {
		n, err := ParseNumber(c.text)
		same := n.Value == c.value || math.IsNaN(n.Value) && math.IsNaN(c.value)
		if err != nil || !same || n.Class != c.class {
			t.Errorf("%q (%s): %v %v, %v; want %v %v", c.text, c.source, n.Value, n.Class, err, c.value, c.class)
		}
	}
}

func TestParseNumberRefuses(t *testing.T) {
	cases := []struct {
		text string
		want error
	}{
		{"", ErrBlank}, {"  ", ErrBlank}, {"----", ErrBlank}, {"-", ErrBlank},
		{"OL", ErrOverload}, {"-OL", ErrOverload}, {"o.l", ErrOverload}, {"Overload", ErrOverload},
		{"5.0 V", ErrNotNumber}, {"5,0", ErrNotNumber}, {"#", ErrNotNumber}, {"#H", ErrNotNumber}, {"#HG", ErrNotNumber},
		{"#15HELLO", ErrNotNumber}, {"#B2", ErrNotNumber}, {"#H-1", ErrNotNumber}, {"#H10000000000000000", ErrNotNumber},
		{"1 2", ErrNotNumber}, {"- 5", ErrNotNumber}, {"5\x00", ErrNotNumber}, {"ERROR", ErrNotNumber}, {"INFINI", ErrNotNumber},
	}
	for _, c := range cases {
		n, err := ParseNumber(c.text)
		if !errors.Is(err, c.want) || !errors.Is(err, ErrNotNumber) {
			t.Errorf("%q: error %v, want %v", c.text, err, c.want)
		}
		if n.Class == Finite || n.Digits.Known() {
			t.Errorf("%q became the reading %v", c.text, n)
		}
	}
}

// A float32 cannot hold the special numbers exactly: 9.9E37 becomes less than
// 9.9E37, and still is no reading (S-32 to S-34, FORMat REAL,32).
func TestClassOfSinglePrecision(t *testing.T) {
	cases := []struct {
		value float64
		want  Class
	}{
		{float64(float32(9.9e37)), PositiveInfinity},
		{float64(float32(-9.9e37)), NegativeInfinity},
		{float64(float32(9.91e37)), NotANumber},
		{math.NaN(), NotANumber},
		{math.Inf(1), PositiveInfinity},
		{math.Inf(-1), NegativeInfinity},
		{math.MaxFloat64, PositiveInfinity},
		{0, Finite},
		{9.89e37, Finite},
	}
	for _, c := range cases {
		if got := ClassOf(c.value); got != c.want {
			t.Errorf("%v is %v, want %v", c.value, got, c.want)
		}
	}
	if Class(0).String() != "unknown" || !math.IsNaN(Class(0).value(1)) {
		t.Error("the zero Class must be no reading")
	}
}

func FuzzParseNumber(f *testing.F) {
	for _, seed := range []string{"5.0121", "#HFF", "#B2", "9.9E37", "-9.91000E+37", "OL", "----", "", "1 E 3", "INF", "1.5 kOhm"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		n, err := ParseNumber(text)
		switch {
		case err != nil:
			if !errors.Is(err, ErrNotNumber) || n.Class != 0 {
				t.Fatalf("%q: %v, %v", text, n, err)
			}
		case n.Class == Finite:
			if !n.Digits.Known() || math.Abs(n.Value) >= 9.9e37 || math.IsNaN(n.Value) || n.Digits.Float64() != n.Value {
				t.Fatalf("%q became the reading %v", text, n)
			}
		case !math.IsInf(n.Value, 0) && !math.IsNaN(n.Value):
			t.Fatalf("%q of class %v has the value %v", text, n.Class, n.Value)
		}
		if q, err := ParseQuantity(text); err == nil && q.Class == 0 {
			t.Fatalf("%q: a quantity without class", text)
		}
	})
}
