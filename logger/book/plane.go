package book

import (
	"encoding/binary"
	"fmt"
	"sync"

	"github.com/klauspost/compress/huff0"
	"github.com/klauspost/compress/zstd"
)

// A plane is the bytes of one significance of a column, one per reading. It is
// written as a byte that says how, and what that needs:
//
//	0  the bytes themselves
//	1  one byte: all are the same
//	2  uvarint length, a Huffman table and four streams (RFC 8878, 4.2)
//	3  uvarint length, a zstd frame (RFC 8878, 3.1)
//
// Bytes of one significance have much the same spread, so that one Huffman table
// of their own suits them; a frame over all of them together would mix the noise
// of the low ones into the others. Zstd itself serves where patterns repeat.
const (
	planeRaw = iota
	planeOne
	planeHuffman
	planeZstd
)

// fewest is how many bytes are worth a table.
const fewest = 64

// packer compresses planes; it has buffers that are used again.
type packer struct {
	huffman huff0.Scratch
	zstd    *zstd.Encoder
	buffer  []byte
}

// append adds the smallest form of a plane.
func (p *packer) append(to, plane []byte) []byte {
	if same(plane) {
		return append(to, planeOne, plane[0])
	}
	method, packed := byte(planeRaw), plane
	if len(plane) >= fewest {
		p.huffman.Reuse = huff0.ReusePolicyNone
		if out, _, err := huff0.Compress4X(plane, &p.huffman); err == nil && len(out) < len(plane) {
			method, packed = planeHuffman, out
		}
		if repeats(plane) {
			p.buffer = p.zstd.EncodeAll(plane, p.buffer[:0])
			if len(p.buffer) < len(packed) {
				method, packed = planeZstd, p.buffer
			}
		}
	}
	to = append(to, method)
	if method != planeRaw {
		to = binary.AppendUvarint(to, uint64(len(packed)))
	}
	return append(to, packed...)
}

// planeDecoder unfolds no frame beyond the room that it is given.
var planeDecoder = sync.OnceValue(func() *zstd.Decoder {
	d, err := zstd.NewReader(nil, zstd.WithDecoderConcurrency(1), zstd.WithDecodeAllCapLimit(true))
	if err != nil {
		panic(err) // the options are constants
	}
	return d
})

// same tells whether all bytes are equal.
func same(plane []byte) bool {
	for _, b := range plane {
		if b != plane[0] {
			return false
		}
	}
	return true
}

// repeats tells whether zstd is worth trying: it is where neighbouring bytes are
// often the same, or pairs come again after a short while.
func repeats(plane []byte) bool {
	equal := 0
	for i := 1; i < len(plane); i++ {
		if plane[i] == plane[i-1] {
			equal++
		}
	}
	return equal*4 > len(plane)*3
}

// unpackPlane reads a plane of the length of into.
func (r *blockReader) unpackPlane(into []byte) {
	method := r.byte()
	switch method {
	case planeRaw:
		copy(into, r.bytes(len(into)))
		return
	case planeOne:
		one := r.byte()
		for i := range into {
			into[i] = one
		}
		return
	}
	packed := r.bytes(r.length())
	if r.err != nil {
		return
	}
	var out []byte
	var err error
	switch method {
	case planeHuffman:
		out, err = unpackHuffman(&r.huffman, into, packed)
	case planeZstd:
		out, err = planeDecoder().DecodeAll(packed, into[:0:len(into)])
	default:
		err = fmt.Errorf("plane of form %d", method)
	}
	if err == nil && len(out) != len(into) {
		err = fmt.Errorf("plane of %d bytes for %d readings", len(out), len(into))
	}
	if err == nil && &out[0] != &into[0] {
		copy(into, out)
	}
	r.fail(err)
}

func unpackHuffman(scratch *huff0.Scratch, into, packed []byte) ([]byte, error) {
	_, rest, err := huff0.ReadTable(packed, scratch)
	if err != nil {
		return nil, err
	}
	return scratch.Decoder().Decompress4X(into[:0:len(into)], rest)
}
