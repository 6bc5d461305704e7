package checks_test

import (
	"math"
	"testing"
	"time"

	"soakline/checks"
	"soakline/device"
)

// Two digits of uncertainty at most: JCGM 100:2008, 7.2.6. The choice of prefix is
// common practice, no source.
func TestFigure(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for _, row := range []struct {
		value, u float64
		unit     device.Unit
		want     string
	}{
		{5.0121, 0.0009, device.Volt, "5.0121 V ± 0.0018"},
		{5.012, 0.002692832, device.Volt, "5.0120 V ± 0.0054"},
		{10.05762, 0.0135, device.Ohm, "10.058 ohm ± 0.027"}, // the example of 7.2.6 (from memory), with U for u
		{50000838e-9, 46.5e-9, device.Volt, "50.000838 mV ± 0.000093"},
		{5.0121, 0, device.Volt, "5.0121 V"},
		{5.0121, nan, device.Volt, "5.0121 V"},
		{5.0121, inf, device.Volt, "5.0121 V"},
		{4.75, 0, device.Volt, "4.75 V"},
		{0.231, 0, device.Volt, "0.231 V"},
		{0.003, 0, device.Volt, "3 mV"},
		{0.0999999, 0, device.Volt, "100 mV"},
		{-0.0123, 0.0005, device.Volt, "-12.3 mV ± 1.0"},
		{92e-9, 3e-9, device.Second, "92.0 ns ± 6.0"},
		{7200, 0, device.Second, "7200 s"},
		{2130e-6, 10e-6, device.Farad, "2130 µF ± 20"},
		{2200e-12, 0, device.Farad, "2.2 nF"},
		{4433618.8, 0.5, device.Hertz, "4.4336188 MHz ± 0.0000010"},
		{15625, 0, device.Hertz, "15.625 kHz"},
		{9.91e9, 0, device.Ohm, "9.91 Gohm"},
		{0.058, 0.002, device.Ratio, "5.80 % ± 0.40"},
		{0.009, 0, device.Ratio, "0.9 %"},
		{math.Sqrt2, 0.001, device.Factor, "1.4142 V/V ± 0.0020"}, {1.1286, 0, device.Factor, "1.1286 V/V"}, // A-10; A-26
		{25.3, 0.25, device.Celsius, "25.30 °C ± 0.50"},
		{-0.0001, 0.05, device.Volt, "0.00 V ± 0.10"},
		{0, 0, device.Volt, "0 V"},
		{0, 0.001, device.Volt, "0.0 mV ± 2.0"},
		{1234, 300, device.Volt, "1.23 kV ± 0.60"},
		{0.9999999, 0, device.Volt, "1 V"},
		{4.7, 0.00498, device.Volt, "4.700 V ± 0.010"},
		{1e-15, 0, device.Farad, "0.001 pF"},
		{1e30, 0, device.Ohm, "1e+21 Gohm"},
		{nan, 0.1, device.Volt, "not known"},
		{inf, 0.1, device.Volt, "not known"},
		{-inf, 0, device.Volt, "not known"},
	} {
		if got := checks.Figure(row.value, row.u, row.unit); got != row.want {
			t.Errorf("%g, u %g: got %q, want %q", row.value, row.u, got, row.want)
		}
	}
}

func TestDifference(t *testing.T) {
	for _, row := range []struct {
		value, u float64
		want     string
	}{
		{0.146, 0.0045, "+0.1460 V ± 0.0090"}, {-0.0054, 0, "-5.4 mV"}, {0, 0, "0 V"}, {math.NaN(), 0, "not known"}, {math.Inf(1), 0, "not known"},
	} {
		if got := checks.Difference(row.value, row.u, device.Volt); got != row.want {
			t.Errorf("%g: got %q, want %q", row.value, got, row.want)
		}
	}
}

func TestDuration(t *testing.T) {
	for _, row := range []struct {
		d    time.Duration
		want string
	}{
		{0, "0 s"}, {500 * time.Millisecond, "0.5 s"}, {59 * time.Second, "59 s"}, {time.Minute, "1 min"},
		{3*time.Minute + 20*time.Second, "3 min 20 s"}, {3*time.Hour + 12*time.Minute + 59*time.Second, "3 h 12 min"},
		{24 * time.Hour, "24 h"}, {10 * time.Minute, "10 min"}, {-90 * time.Second, "-1 min 30 s"},
		{math.MinInt64, "-2562047 h 47 min"},
	} {
		if got := checks.Duration(row.d); got != row.want {
			t.Errorf("got %q, want %q", got, row.want)
		}
	}
}

func TestASCII(t *testing.T) {
	for text, want := range map[string]string{
		"5.0121 V ± 0.0018": "5.0121 V +/- 0.0018", "2130 µF": "2130 uF", "25 °C": "25 deg C", "[░ ·─|·]": "[~ .-|.]",
	} {
		if got := checks.ASCII(text); got != want {
			t.Errorf("%q: got %q, want %q", text, got, want)
		}
	}
}
