package device

import (
	"math"
	"strconv"
	"strings"
	"testing"
)

func TestRecordNumberPrintedStep(t *testing.T) {
	tests := []struct {
		text string
		want float64
	}{
		{"1.25", 0.01}, {"1.25e-6", 1e-8}, {"12", 1}, {"1e3", 1e3}, {"-0.10", 0.01},
		{"0.00", 0.01}, {"0", 0}, {"0.000e+00", 0}, {"0e5", 0},
	}
	for _, tt := range tests {
		n, ok := recordDialect{}.scanNumber([]byte(tt.text))
		if got := n.printedStep(); !ok || math.Abs(got-tt.want) > 1e-12*tt.want {
			t.Errorf("%q: %v, want %v", tt.text, got, tt.want)
		}
	}
}

// FuzzRecordNumber compares with strconv, which reads the same numbers and more.
func FuzzRecordNumber(f *testing.F) {
	for _, seed := range []string{"1.25e-6", "-0", "123456789012345678", "1e22", "1e-23", ".5", "5.", "1e", "e5", "+-1", "0.000000000000000000000001", "1e999", "9007199254740993"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		for _, d := range []recordDialect{{decimalComma: false}, {decimalComma: true}} {
			got, ok := d.number([]byte(text))
			plain, foreign := text, ","
			if d.decimalComma {
				plain, foreign = strings.Replace(text, ",", ".", 1), "."
			}
			want, err := strconv.ParseFloat(plain, 64)
			wanted := err == nil && strings.Trim(plain, "0123456789.+-eE") == "" && !strings.Contains(text, foreign)
			if ok != wanted || ok && math.Float64bits(got) != math.Float64bits(want) {
				t.Fatalf("%q: %v, %v; strconv %v, %v", text, got, ok, want, err)
			}
		}
	})
}
