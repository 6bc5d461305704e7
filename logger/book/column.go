package book

import (
	"encoding/binary"
	"math/bits"
)

// A column is one whole number per reading. What a predictor leaves of each is
// cut into planes, the lowest byte first:
//
//	predictor  byte: 0 none, 1 the number before, k+1 the mean of those before, in
//	           which each new one counts 1/2^k
//	planes     byte: how many, 0 to 8
//	base       varint: with predictor 0 the smallest number, else the first
//	planes     each as plane.go says
//
// Predictor 0 leaves the number less base. The others leave the number less the
// prediction, zigzag coded (even for 0 and above, odd below). All arithmetic is
// modulo 2^64, so that any column comes back exactly. A mean predicts better than
// the number before where what is measured stands still and the last digit is
// noisy: the noise then counts once, not twice.
const (
	predictNone = iota
	predictLast
	predictMean // the first of them: k is 1
	predictors  = predictMean + 4
)

// predictor is the running mean of a column: of 2^shift numbers, times 2^shift.
type predictor struct {
	sum   uint64
	shift uint
}

func newPredictor(kind byte, base int64) predictor {
	shift := uint(kind) - predictLast
	return predictor{sum: uint64(base) << shift, shift: shift} // #nosec G115 -- modulo 2^64
}

// predict returns what the next number may be.
func (p *predictor) predict() uint64 { return uint64(int64(p.sum) >> p.shift) } // #nosec G115 -- modulo 2^64

// learn takes how far the number was from what was predicted.
func (p *predictor) learn(residual uint64) { p.sum += residual }

func zigzag(v uint64) uint64   { return v<<1 ^ uint64(int64(v)>>63) } // #nosec G115 -- modulo 2^64
func unzigzag(v uint64) uint64 { return v>>1 ^ -(v & 1) }

// columnWriter encodes columns; it has buffers that are used again.
type columnWriter struct {
	packer    packer
	residuals []uint64
	plane     []byte
}

// append adds a column of at least one number.
func (w *columnWriter) append(to []byte, column []int64) []byte {
	kind, base := choose(column)
	if cap(w.residuals) < len(column) {
		w.residuals, w.plane = make([]uint64, len(column)), make([]byte, len(column))
	}
	residuals, plane := w.residuals[:len(column)], w.plane[:len(column)]
	all := leave(residuals, column, kind, base)
	width := (bits.Len64(all) + 7) / 8
	to = append(to, kind, byte(width))
	to = binary.AppendVarint(to, base)
	for shift := range width {
		for i, r := range residuals {
			plane[i] = byte(r >> (8 * shift)) // #nosec G115 -- the byte that is wanted
		}
		to = w.packer.append(to, plane)
	}
	return to
}

// leave writes what a predictor leaves of a column, and returns all bits that occur.
func leave(residuals []uint64, column []int64, kind byte, base int64) (all uint64) {
	if kind == predictNone {
		for i, v := range column {
			residuals[i] = uint64(v - base) // #nosec G115 -- base is the smallest
			all |= residuals[i]
		}
		return all
	}
	p := newPredictor(kind, base)
	for i, v := range column {
		r := uint64(v) - p.predict() // #nosec G115 -- modulo 2^64
		p.learn(r)
		residuals[i] = zigzag(r)
		all |= residuals[i]
	}
	return all
}

// choose returns the predictor that leaves the fewest bits, and its base. Without one a
// number can be told from its own bytes (halves.go), which is worth a few bits.
func choose(column []int64) (kind byte, base int64) {
	low, high := column[0], column[0]
	for _, v := range column {
		low, high = min(low, v), max(high, v)
	}
	if low == high {
		return predictNone, low
	}
	without := 0
	for _, v := range column {
		without += bits.Len64(uint64(v - low)) // #nosec G115 -- low is the smallest
	}
	kind, base = predictNone, low
	least := without - without/32
	for candidate := byte(predictLast); candidate < predictors; candidate++ {
		p := newPredictor(candidate, column[0])
		cost := 0
		for _, v := range column {
			r := uint64(v) - p.predict() // #nosec G115 -- modulo 2^64
			p.learn(r)
			cost += bits.Len64(zigzag(r))
		}
		if cost < least {
			kind, base, least = candidate, column[0], cost
		}
	}
	return kind, base
}

// column reads a column of the length of into.
func (r *blockReader) column(into []int64) {
	kind, width, base := r.byte(), int(r.byte()), r.varint()
	if kind >= predictors || width > 8 {
		r.fail(errColumn)
		return
	}
	residuals := r.residuals(len(into))
	r.unpackPlanes(residuals, width)
	if r.err != nil {
		return
	}
	if kind == predictNone {
		for i, v := range residuals {
			into[i] = base + int64(v) // #nosec G115 -- modulo 2^64
		}
		return
	}
	// As predictor does it, in registers.
	into = into[:len(residuals)]
	shift := (uint(kind) - predictLast) & 63
	sum := uint64(base) << shift // #nosec G115 -- modulo 2^64
	for i, v := range residuals {
		residual := unzigzag(v)
		into[i] = int64(sum)>>shift + int64(residual) // #nosec G115 -- modulo 2^64
		sum += residual
	}
}

// unpackPlanes puts the planes of residuals together.
func (r *blockReader) unpackPlanes(residuals []uint64, width int) {
	if width == 0 {
		clear(residuals)
		return
	}
	plane := r.plane(len(residuals))[:len(residuals)]
	r.unpackPlane(plane)
	for i := range residuals {
		residuals[i] = uint64(plane[i])
	}
	for shift := 8; shift < 8*width; shift += 8 {
		r.unpackPlane(plane)
		for i := range residuals {
			residuals[i] |= uint64(plane[i]) << (shift & 63)
		}
	}
}
