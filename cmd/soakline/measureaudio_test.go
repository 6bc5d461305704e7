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
	out := headWAV(2, rate, frames)
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

// stepsWAV is three tones of half a second each on one channel, the last at half the
// level of the others: 250 Hz, 1 kHz, 4 kHz.
func stepsWAV() []byte {
	const rate, frames = 48000, 24000
	out := headWAV(1, rate, 3*frames)
	for _, step := range []struct{ hertz, level float64 }{{250, 0.5}, {1000, 0.5}, {4000, 0.25}} {
		for i := range frames {
			x := step.level * math.Sin(2*math.Pi*step.hertz*float64(i)/rate)
			out = le.LittleEndian.AppendUint16(out, uint16(int16(math.Round(32767*x))))
		}
	}
	return out
}

// headWAV is the head of a file of 16-bit samples.
func headWAV(channels uint16, rate, frames uint32) []byte {
	out := []byte("RIFF\x00\x00\x00\x00WAVEfmt \x10\x00\x00\x00\x01\x00")
	out = le.LittleEndian.AppendUint16(out, channels)
	out = le.LittleEndian.AppendUint32(out, rate)
	out = le.LittleEndian.AppendUint32(out, rate*2*uint32(channels))
	out = le.LittleEndian.AppendUint16(out, 2*channels)
	out = append(out, "\x10\x00data"...)
	return le.LittleEndian.AppendUint32(out, frames*2*uint32(channels))
}
