package book

import (
	"errors"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"soakline/device"
	"soakline/device/scpi"
)

// sameReading compares bit for bit: minus zero is not zero.
func sameReading(a, b device.Reading) bool {
	return a.Measure == b.Measure && a.Digits == b.Digits && a.At.Equal(b.At) &&
		math.Float64bits(a.Value) == math.Float64bits(b.Value) &&
		math.Float64bits(a.StandardUncertainty) == math.Float64bits(b.StandardUncertainty)
}

// TestReadingsComeBackExactly: what an instrument can send (IEEE 488.2, 8.7) and
// what can be computed.
func TestReadingsComeBackExactly(t *testing.T) {
	texts := []string{
		"0", "-0", "-0.000", "+1.00213E-03", "5.0120", "5.01200", "-5E0", "12E3", "1E-300", "9223372036854775807",
		"-9223372036854775808", "9223372036854775808", "0.1234567890123456789012345", "-123456789012345678901234567890E-20",
		"1E300", "000.500", strings.Repeat("9", 60),
	}
	floats := []float64{
		0, math.Copysign(0, -1), 0.1, 1.0 / 3, math.MaxFloat64, -math.MaxFloat64, math.SmallestNonzeroFloat64, 5e-324, 1e15, 123456789,
	}
	var readings []TaggedReading
	for i, text := range texts {
		readings = append(readings, digits(t, rail, time.Duration(i)*time.Microsecond, text))
	}
	for i, f := range floats {
		r := device.Reading{Measure: rail.Measure, Value: f, At: begin.Add(time.Hour + time.Duration(i)), StandardUncertainty: math.Abs(f) / 3}
		r.At = r.At.Truncate(time.Microsecond) // one microsecond for all: order of arrival
		readings = append(readings, TaggedReading{rail, r})
	}
	b := openNew(t)
	write(t, b, readings...)
	got := readAll(t, b, Filter{})
	if len(got) != len(readings) {
		t.Fatalf("%d readings came back, want %d", len(got), len(readings))
	}
	for i := range got {
		if got[i].Tag != rail || !sameReading(got[i].Reading, readings[i].Reading) {
			t.Errorf("got %+v, want %+v", got[i], readings[i])
		}
	}
}

// TestValueBesideDigits: a value that is not what the digits say is kept as well.
func TestValueBesideDigits(t *testing.T) {
	r := digits(t, rail, 0, "5.0121")
	r.Value = math.Nextafter(r.Value, 6)
	b := openNew(t)
	write(t, b, r)
	if got := readAll(t, b, Filter{}); len(got) != 1 || !sameReading(got[0].Reading, r.Reading) {
		t.Errorf("got %+v, want %+v", got, r)
	}
}

func TestNumberRefuses(t *testing.T) {
	for _, r := range []device.Reading{
		{Value: math.NaN()}, {Value: math.Inf(1)}, {Value: math.Inf(-1)},
		{StandardUncertainty: math.NaN()}, {StandardUncertainty: math.Inf(1)}, {StandardUncertainty: -1e-9},
	} {
		if _, err := toNumber(r); !errors.Is(err, ErrInvalid) {
			t.Errorf("%+v: %v, want %v", r, err, ErrInvalid)
		}
	}
}

// TestAnySeriesComesBack writes random series, times going back and repeating
// among them, and wants them in time order, ties in the order of arrival.
func TestAnySeriesComesBack(t *testing.T) {
	b := openNew(t)
	n := 0
	rapid.Check(t, func(rt *rapid.T) {
		n++
		tag := rail
		tag.TestPoint = "tp-" + tag.TestPoint
		tag.Instrument = strings.Repeat("i", n)
		var want []TaggedReading
		for i := range rapid.IntRange(1, 40).Draw(rt, "count") {
			at := time.UnixMicro(rapid.Int64Range(0, 7258118400e6).Draw(rt, "at")).UTC() // 1970 to 2200
			if i > 0 && rapid.Bool().Draw(rt, "same time") {
				at = want[rapid.IntRange(0, i-1).Draw(rt, "which")].At
			}
			r := device.Reading{Measure: tag.Measure, At: at, StandardUncertainty: rapid.Float64Range(0, 1e300).Draw(rt, "u")}
			if rapid.Bool().Draw(rt, "computed") {
				r.Value = rapid.Float64Range(-1e300, 1e300).Draw(rt, "value")
			} else {
				r.Digits = scpi.NewDecimal(rapid.Int64().Draw(rt, "coefficient"), rapid.Int32Range(-320, 280).Draw(rt, "exponent"))
				r.Value = r.Digits.Float64()
			}
			want = append(want, TaggedReading{tag, r})
		}
		half := len(want) / 2
		write(t, b, want[:half]...)
		write(t, b, want[half:]...)
		sortReadings(want)
		got := readAll(t, b, Filter{Instrument: tag.Instrument})
		if len(got) != len(want) {
			rt.Fatalf("%d readings came back, want %d", len(got), len(want))
		}
		for i := range got {
			if !sameReading(got[i].Reading, want[i].Reading) {
				rt.Fatalf("reading %d: got %+v, want %+v", i, got[i], want[i])
			}
		}
	})
}

// sortReadings puts readings in time order and leaves ties as they are.
func sortReadings(readings []TaggedReading) {
	slices.SortStableFunc(readings, func(a, b TaggedReading) int { return a.At.Compare(b.At) })
}
