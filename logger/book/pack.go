package book

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"slices"
	"sync"

	"github.com/klauspost/compress/zstd"

	"soakline/device"
)

// A packed capture is one zstd frame (RFC 8878, with its checksum) of:
//
//	form      byte: the size of one sample, 1 or 2 (index into the palette) or 8
//	interval, step, low, high   float64, little endian
//	coupling  uvarint length, bytes
//	palette   uvarint count, count float64 in ascending order of their bits; none in form 8
//	samples   uvarint count, then each in form bytes, little endian: in form 8 the
//	          float64, else the index less the index before, modulo 2^8 or 2^16
//
// A converter of 8 bits gives at most 256 distinct voltages, so an index is one
// byte, whatever formula made volts of codes, and nothing is rounded. Differences
// of indices are small where a signal is smooth, which zstd makes use of.

// maxUnpacked bounds what a packed capture may unfold to.
const maxUnpacked = 512 << 20

var errPacked = errors.New("not a packed capture")

var encoder = sync.OnceValue(func() *zstd.Encoder {
	e, err := zstd.NewWriter(nil, zstd.WithEncoderConcurrency(1), zstd.WithAllLitEntropyCompression(true))
	if err != nil {
		panic(err) // the options are constants
	}
	return e
})

var decoder = sync.OnceValue(func() *zstd.Decoder {
	d, err := zstd.NewReader(nil, zstd.WithDecoderConcurrency(1), zstd.WithDecoderMaxMemory(maxUnpacked))
	if err != nil {
		panic(err) // the options are constants
	}
	return d
})

// packCapture leaves out At, which has a column of its own.
func packCapture(c device.Capture) []byte {
	palette := paletteOf(c.Volts)
	form := sampleForm(palette)
	if form == 8 {
		palette = nil
	}
	raw := []byte{form}
	for _, f := range []float64{c.SampleIntervalSeconds, c.StepVolts, c.LowVolts, c.HighVolts} {
		raw = binary.LittleEndian.AppendUint64(raw, math.Float64bits(f))
	}
	raw = binary.AppendUvarint(raw, uint64(len(c.Coupling)))
	raw = append(raw, c.Coupling...)
	raw = binary.AppendUvarint(raw, uint64(len(palette)))
	for _, bits := range palette {
		raw = binary.LittleEndian.AppendUint64(raw, bits)
	}
	raw = binary.AppendUvarint(raw, uint64(len(c.Volts)))
	raw = appendSamples(raw, form, palette, c.Volts)
	return encoder().EncodeAll(raw, nil)
}

// paletteOf returns the distinct samples as bits, ascending; nil if there are more
// than two bytes can count.
func paletteOf(volts []float64) []uint64 {
	const most = 1 << 16
	seen := make(map[uint64]struct{})
	for _, v := range volts {
		seen[math.Float64bits(v)] = struct{}{}
		if len(seen) > most {
			return nil
		}
	}
	palette := make([]uint64, 0, len(seen))
	for bits := range seen {
		palette = append(palette, bits)
	}
	slices.Sort(palette)
	return palette
}

func sampleForm(palette []uint64) byte {
	switch {
	case palette == nil:
		return 8
	case len(palette) <= 1<<8:
		return 1
	default:
		return 2
	}
}

func appendSamples(raw []byte, form byte, palette []uint64, volts []float64) []byte {
	last := 0
	for _, v := range volts {
		bits := math.Float64bits(v)
		index, _ := slices.BinarySearch(palette, bits)
		switch form {
		case 1:
			raw = append(raw, byte(index-last)) // #nosec G115 -- meant to wrap
		case 2:
			raw = binary.LittleEndian.AppendUint16(raw, uint16(index-last)) // #nosec G115 -- meant to wrap
		default:
			raw = binary.LittleEndian.AppendUint64(raw, bits)
		}
		last = index
	}
	return raw
}

// unpackCapture reads what packCapture wrote; anything else is an error.
func unpackCapture(packed []byte) (device.Capture, error) {
	raw, err := decoder().DecodeAll(packed, nil)
	if err != nil {
		return device.Capture{}, fmt.Errorf("%w: %w", errPacked, err)
	}
	r := unpacker{rest: raw}
	form := r.byte()
	c := device.Capture{
		SampleIntervalSeconds: r.float(), StepVolts: r.float(), LowVolts: r.float(), HighVolts: r.float(),
	}
	c.Coupling = string(r.bytes(r.count(1)))
	palette := make([]float64, r.count(8))
	for i := range palette {
		palette[i] = r.float()
	}
	if form != 1 && form != 2 && form != 8 || (form == 8) != (len(palette) == 0) && len(r.rest) > 1 {
		return device.Capture{}, fmt.Errorf("%w: form %d", errPacked, form)
	}
	c.Volts = make([]float64, r.count(int(form)))
	for i := range c.Volts {
		c.Volts[i] = r.sample(form, palette)
	}
	if r.bad || len(r.rest) > 0 {
		return device.Capture{}, errPacked
	}
	return c, nil
}

// unpacker takes numbers off the front; bad once there were too few bytes.
type unpacker struct {
	rest  []byte
	bad   bool
	index uint16 // of the last sample
}

func (r *unpacker) bytes(n int) []byte {
	if n > len(r.rest) {
		r.bad, r.rest = true, nil
		return make([]byte, min(n, 8))
	}
	taken := r.rest[:n]
	r.rest = r.rest[n:]
	return taken
}

func (r *unpacker) byte() byte { return r.bytes(1)[0] }

func (r *unpacker) float() float64 {
	return math.Float64frombits(binary.LittleEndian.Uint64(r.bytes(8)))
}

// count reads how many items of a size follow; it is never more than fit the rest.
func (r *unpacker) count(size int) int {
	n, used := binary.Uvarint(r.rest)
	if used <= 0 || n > uint64(len(r.rest)-used)/uint64(size) { // #nosec G115 -- none is negative
		r.bad, r.rest = true, nil
		return 0
	}
	r.rest = r.rest[used:]
	return int(n) // #nosec G115 -- bounded by the length of the rest
}

func (r *unpacker) sample(form byte, palette []float64) float64 {
	switch form {
	case 1:
		r.index = uint16(byte(r.index) + r.byte())
	case 2:
		r.index += binary.LittleEndian.Uint16(r.bytes(2))
	default:
		return r.float()
	}
	if int(r.index) >= len(palette) {
		r.bad = true
		return math.NaN()
	}
	return palette[r.index]
}
