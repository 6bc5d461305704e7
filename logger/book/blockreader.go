package book

import (
	"encoding/binary"
	"errors"
	"math"

	"github.com/klauspost/compress/huff0"
)

var (
	errBlockCut = errors.New("reading block is cut short")
	errColumn   = errors.New("reading block has a column of an unknown form")
)

// blockReader takes a reading block apart. After an error it gives zeros; the
// first error stays. Its buffers are used again for the next block.
type blockReader struct {
	rest    []byte
	series  int64 // of the block
	err     error
	huffman huff0.Scratch
	words   []uint64
	octets  []byte
}

func (r *blockReader) fail(err error) {
	if r.err == nil {
		r.err = err
	}
}

func (r *blockReader) bytes(n int) []byte {
	if r.err == nil && n > len(r.rest) {
		r.err = errBlockCut
	}
	if r.err != nil {
		return nil
	}
	taken := r.rest[:n]
	r.rest = r.rest[n:]
	return taken
}

func (r *blockReader) byte() byte {
	if b := r.bytes(1); b != nil {
		return b[0]
	}
	return 0
}

func (r *blockReader) uvarint() uint64 {
	v, n := binary.Uvarint(r.rest)
	if n <= 0 {
		r.fail(errBlockCut)
	}
	r.bytes(max(n, 0))
	return v
}

func (r *blockReader) varint() int64 {
	v, n := binary.Varint(r.rest)
	if n <= 0 {
		r.fail(errBlockCut)
	}
	r.bytes(max(n, 0))
	return v
}

// length reads a length that cannot be more than what is left.
func (r *blockReader) length() int {
	v := r.uvarint()
	if v > uint64(len(r.rest)) {
		r.fail(errBlockCut)
		return 0
	}
	return int(v) // #nosec G115 -- bounded by the line above
}

func (r *blockReader) float() float64 {
	if b := r.bytes(8); b != nil {
		return math.Float64frombits(binary.LittleEndian.Uint64(b))
	}
	return 0
}

func (r *blockReader) residuals(n int) []uint64 {
	if cap(r.words) < n {
		r.words = make([]uint64, n)
	}
	return r.words[:n]
}

func (r *blockReader) plane(n int) []byte {
	if cap(r.octets) < n {
		r.octets = make([]byte, n)
	}
	return r.octets[:n:n]
}
