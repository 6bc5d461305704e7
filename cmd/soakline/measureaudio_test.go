package main

import (
	le "encoding/binary"
	"math"
)

// toneWAV is two seconds of 48 kHz stereo with 16 bits: 1 kHz at -12.04 dB of full
// scale rms, 0.5 % of second harmonic, hum of 50.02 Hz 50 dB below, 0.8 of all that on
// the right.
func toneWAV() []byte {
	const rate, frames = 48000, 96000
	out := []byte("RIFF\x00\x00\x00\x00WAVEfmt \x10\x00\x00\x00\x01\x00\x02\x00")
	out = le.LittleEndian.AppendUint32(out, rate)
	out = le.LittleEndian.AppendUint32(out, rate*4)
	out = append(out, "\x04\x00\x10\x00data"...)
	out = le.LittleEndian.AppendUint32(out, frames*4)
	for i := range frames {
		at := 2 * math.Pi * float64(i) / rate
		level := 0.316228 / 1.26 * math.Sqrt2
		x := level * (math.Sin(1000*at) + 0.005*math.Sin(2000*at+1) + 0.00316*math.Sin(50.02*at))
		// A triangle of two steps stands for noise, so that the file is always the same.
		ripple := math.Abs(math.Mod(float64(i)*0.7320508, 4)-2) - 1
		for _, gain := range []float64{1, 0.8} {
			out = le.LittleEndian.AppendUint16(out, uint16(int16(math.Round(32768*gain*x+ripple))))
		}
	}
	return out
}
