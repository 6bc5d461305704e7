package scpi

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"strings"
)

// Encoding is how a record's samples are sent (FORMat[:DATA], S-46).
type Encoding string

// The encodings of a record.
const (
	Uint8   Encoding = "uint8"
	Int8    Encoding = "int8"
	Uint16  Encoding = "uint16"
	Int16   Encoding = "int16"
	Float32 Encoding = "float32" // IEEE 754, FORMat REAL,32
	Float64 Encoding = "float64" // FORMat REAL,64
	ASCII   Encoding = "ascii"   // numbers with commas between
)

// sampleBytes is the size of one sample of the binary encodings.
var sampleBytes = map[Encoding]int{Uint8: 1, Int8: 1, Uint16: 2, Int16: 2, Float32: 4, Float64: 8}

// ErrBadSamples says that data are no record in the encoding named.
var ErrBadSamples = errors.New("not a record of samples")

// DecodeSamples turns a block's data, or for ASCII an answer's text, into numbers,
// in the order sent. lowByteFirst is FORMat:BORDer SWAPped (S-47) and means
// nothing for single bytes and ASCII. The special numbers of SCPI become
// infinities and NaN (S-36), as in ParseNumber. It fails with ErrBadSamples.
func DecodeSamples(data []byte, encoding Encoding, lowByteFirst bool) ([]float64, error) {
	if encoding == ASCII {
		return decodeASCII(string(data))
	}
	size, ok := sampleBytes[encoding]
	if !ok {
		return nil, fmt.Errorf("encoding %q: %w", encoding, ErrBadSamples)
	}
	if len(data)%size != 0 {
		return nil, fmt.Errorf("%d bytes of %s samples: not a multiple of %d: %w", len(data), encoding, size, ErrBadSamples)
	}
	var order binary.ByteOrder = binary.BigEndian
	if lowByteFirst {
		order = binary.LittleEndian
	}
	samples := make([]float64, len(data)/size)
	for i := range samples {
		samples[i] = decodeSample(data[i*size:], encoding, order)
	}
	return samples, nil
}

// decodeSample decodes the sample that data begin with.
func decodeSample(data []byte, encoding Encoding, order binary.ByteOrder) float64 {
	switch encoding {
	case Uint8:
		return float64(data[0])
	case Int8:
		return float64(int8(data[0]))
	case Uint16:
		return float64(order.Uint16(data))
	case Int16:
		return float64(int16(order.Uint16(data)))
	case Float32:
		return plain(float64(math.Float32frombits(order.Uint32(data))))
	default:
		return plain(math.Float64frombits(order.Uint64(data)))
	}
}

// plain maps the special numbers to infinities and NaN.
func plain(value float64) float64 { return ClassOf(value).value(value) }

// decodeASCII decodes numbers with commas between.
func decodeASCII(text string) ([]float64, error) {
	samples := make([]float64, 0, 1+strings.Count(text, ","))
	for field := range strings.SplitSeq(text, ",") {
		number, err := ParseNumber(field)
		if err != nil {
			return nil, fmt.Errorf("sample %d: %w: %w", len(samples), ErrBadSamples, err)
		}
		samples = append(samples, number.Value)
	}
	return samples, nil
}
