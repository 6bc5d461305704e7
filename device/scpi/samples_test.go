package scpi

import (
	"encoding/binary"
	"errors"
	"math"
	"slices"
	"testing"
)

func TestDecodeSamples(t *testing.T) {
	inf := math.Inf(1)
	cases := []struct {
		encoding Encoding
		low      bool
		data     string
		want     []float64
		source   string
	}{
		{Uint8, false, "\x00\x7f\xff", []float64{0, 127, 255}, "S-46, INTeger,8"},
		{Int8, true, "\x00\x7f\xff\x80", []float64{0, 127, -1, -128}, "S-46; no order in one byte"},
		{Uint16, false, "\x01\x02\xff\xff", []float64{258, 65535}, "S-47, NORMal"},
		{Uint16, true, "\x01\x02\xff\xff", []float64{513, 65535}, "S-47, SWAPped"},
		{Int16, false, "\x80\x00\xff\xfe", []float64{-32768, -2}, "S-47, NORMal"},
		{Int16, true, "\x80\x00\xff\xfe", []float64{128, -257}, "S-47, SWAPped"},
		{Float32, false, "\x3f\x80\x00\x00\xc0\x00\x00\x00", []float64{1, -2}, "IEEE 754 single, 3F800000 is 1"},
		{Float32, true, "\x00\x00\x80\x3f\x00\x00\x00\xc0", []float64{1, -2}, "IEEE 754 single, swapped"},
		{Float64, false, "\x40\x09\x21\xfb\x54\x44\x2d\x18", []float64{math.Pi}, "IEEE 754 double, pi"},
		{Float64, true, "\x18\x2d\x44\x54\xfb\x21\x09\x40", []float64{math.Pi}, "IEEE 754 double, pi, swapped"},
		{ASCII, true, "+1.5E+0, -2,3.,9.9E37", []float64{1.5, -2, 3, inf}, "S-48, S-32"},
		{Uint16, false, "", []float64{}, "no samples"},
	}
	for _, c := range cases {
		got, err := DecodeSamples([]byte(c.data), c.encoding, c.low)
		if err != nil || !slices.Equal(got, c.want) {
			t.Errorf("%s swapped %v (%s): %v, %v; want %v", c.encoding, c.low, c.source, got, err, c.want)
		}
	}
}

// S-36: a sample that is a special number is no sample, in binary as in text.
func TestDecodeSamplesSpecial(t *testing.T) {
	data := binary.BigEndian.AppendUint32(nil, math.Float32bits(9.91e37))
	data = binary.BigEndian.AppendUint32(data, math.Float32bits(9.9e37))
	data = binary.BigEndian.AppendUint32(data, math.Float32bits(-9.9e37))
	got, err := DecodeSamples(data, Float32, false)
	if err != nil || !math.IsNaN(got[0]) || !math.IsInf(got[1], 1) || !math.IsInf(got[2], -1) {
		t.Errorf("%v, %v", got, err)
	}
}

func TestDecodeSamplesRefuses(t *testing.T) {
	for _, c := range []struct {
		encoding Encoding
		data     string
	}{
		{Uint16, "\x00"}, {Float32, "\x00\x00\x00\x00\x00"}, {Float64, "\x00\x00\x00\x00"},
		{ASCII, ""}, {ASCII, "1,,2"}, {ASCII, "1,OL"}, {ASCII, "1;2"}, {"", "12"}, {"uint12", "12"},
	} {
		if got, err := DecodeSamples([]byte(c.data), c.encoding, false); !errors.Is(err, ErrBadSamples) || got != nil {
			t.Errorf("%s %q: %v, %v", c.encoding, c.data, got, err)
		}
	}
}
