package device

import (
	"encoding/binary"
	"errors"
	"fmt"
)

// wavLayout is how a WAV file's samples are stored. It is found and checked here,
// because the reading library believes what a file says about its own lengths.
type wavLayout struct {
	channels, bits, rate int
	float                bool
	from, to             int // the samples' bytes in the file
	frames               int // whole samples of every channel
}

// The codes of the format chunk.
const (
	wavWhole      = 1
	wavFloat      = 3
	wavExtensible = 0xfffe
)

// maxWAVChannels is more than any recorder on a bench has.
const maxWAVChannels = 32

// openEnded is the length from which on it only says that the writer could not
// know: programs that write into a pipe put in about 2 GiB or 4 GiB.
const openEnded = 0x7fff0000

// newWAVLayout goes through the file's chunks up to the samples.
func newWAVLayout(file []byte, leaveCut bool) (wavLayout, error) {
	var layout wavLayout
	if !IsWAV(file) {
		return layout, errNoWAV
	}
	for at := 12; ; {
		if at+8 > len(file) {
			if layout.bits == 0 {
				return layout, errors.New("the file breaks off before it says how its samples are stored")
			}
			return layout, errors.New("the file breaks off before its samples")
		}
		id, size := string(file[at:at+4]), int(binary.LittleEndian.Uint32(file[at+4:]))
		at += 8
		switch {
		case id == "data":
			err := layout.findSamples(at, size, len(file), leaveCut)
			return layout, err
		case size > len(file)-at:
			return layout, fmt.Errorf("the file breaks off in its part %q, before its samples", id)
		case id == "fmt ":
			if err := layout.readFormat(file[at : at+size]); err != nil {
				return layout, err
			}
		}
		at += size + size%2
	}
}

// readFormat reads a format chunk; the extensible one names the kind of samples at
// its end.
func (l *wavLayout) readFormat(chunk []byte) error {
	if len(chunk) < 16 {
		return fmt.Errorf("the format part has %d bytes, wanted 16 or more", len(chunk))
	}
	word := func(at int) int { return int(binary.LittleEndian.Uint16(chunk[at:])) }
	kind := word(0)
	if kind == wavExtensible && len(chunk) >= 26 {
		kind = word(24)
	}
	l.channels, l.rate, l.bits = word(2), int(binary.LittleEndian.Uint32(chunk[4:])), word(14)
	l.float = kind == wavFloat
	switch {
	case kind != wavWhole && kind != wavFloat:
		return fmt.Errorf("the samples are compressed (format %#x): save it again as plain PCM", kind)
	case l.float && l.bits != 32, l.bits != 8 && l.bits != 16 && l.bits != 24 && l.bits != 32:
		return fmt.Errorf("samples of %d bits%s: wanted 8, 16, 24 or 32, or floating point of 32", l.bits, map[bool]string{true: " floating point"}[l.float])
	case l.channels < 1 || l.channels > maxWAVChannels:
		return fmt.Errorf("%d channels: wanted 1 to %d", l.channels, maxWAVChannels)
	case l.rate == 0:
		return errors.New("the sample rate is 0")
	case word(12) != l.frameBytes():
		return fmt.Errorf("%d bytes for a sample of every channel, but %d channels of %d bits take %d", word(12), l.channels, l.bits, l.frameBytes())
	}
	return nil
}

func (l *wavLayout) frameBytes() int { return l.channels * l.bits / 8 }

// findSamples finds where the samples end and counts them.
func (l *wavLayout) findSamples(from, size, fileSize int, leaveCut bool) error {
	if l.bits == 0 {
		return errors.New("the samples come before it is said how they are stored")
	}
	there := fileSize - from
	if size > there {
		if size < openEnded && !leaveCut {
			return fmt.Errorf("the file breaks off after %d of %d samples", there/l.frameBytes(), size/l.frameBytes())
		}
		size = there
	}
	l.frames = size / l.frameBytes()
	if size%l.frameBytes() != 0 && !leaveCut {
		return fmt.Errorf("the file breaks off within a sample, after %d whole ones", l.frames)
	}
	l.from, l.to = from, from+l.frames*l.frameBytes()
	switch {
	case l.frames < 2:
		return fmt.Errorf("%d samples: a record has two or more", l.frames)
	case l.frames*l.channels > maxRecordSamples:
		return fmt.Errorf("more than %d samples: cut the recording into pieces", maxRecordSamples)
	}
	return nil
}

// plainFile is a WAV file of the format and the samples alone.
func (l wavLayout) plainFile(file []byte) []byte {
	samples := file[l.from:l.to]
	out := make([]byte, 0, 44+len(samples))
	long := func(n int) { out = binary.LittleEndian.AppendUint32(out, uint32(n)) }
	short := func(n int) { out = binary.LittleEndian.AppendUint16(out, uint16(n)) }
	out = append(out, "RIFF"...)
	long(36 + len(samples))
	out = append(out, "WAVEfmt "...)
	long(16)
	short(wavWhole)
	short(l.channels)
	long(l.rate)
	long(l.rate * l.frameBytes())
	short(l.frameBytes())
	short(l.bits)
	out = append(out, "data"...)
	long(len(samples))
	return append(out, samples...)
}
