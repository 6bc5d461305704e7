package book

import (
	"encoding/binary"
	"math"
)

// timeline is a straight line through the times of a block: instruments are asked
// at even intervals, so that little is left of a time less the line.
type timeline struct {
	start int64 // in units
	slope int64 // units per reading, times 2^lineShift
}

const lineShift = 16

// fitLine fits by least squares; any line would do, only the block would be larger.
func fitLine(times []int64) timeline {
	line := timeline{start: times[0]}
	middle := float64(len(times)-1) / 2
	var product, squares float64
	for i, t := range times {
		x := float64(i) - middle
		product += x * float64(t-line.start)
		squares += x * x
	}
	slope := math.Round(product / squares * (1 << lineShift))
	if math.Abs(slope) < 1<<62 { // false for NaN, of one reading
		line.slope = int64(slope)
	}
	return line
}

// at is the line's time of reading i, modulo 2^64.
func (l timeline) at(i int) int64 { return l.start + int64(i)*l.slope>>lineShift }

// unitOf is the longest of a few units in which all times are whole: a book that
// keeps milliseconds is smaller by a byte per reading.
func unitOf(figures []figure) int64 {
	for _, unit := range []int64{1_000_000, 1000} {
		whole := true
		for i := range figures {
			if figures[i].at%unit != 0 {
				whole = false
				break
			}
		}
		if whole {
			return unit
		}
	}
	return 1
}

// appendTimes writes the times of a block: unit in microseconds (uvarint), start
// and slope of the line (varint), and what is left of each time as a column.
func (w *blockWriter) appendTimes(to []byte, figures []figure) []byte {
	unit := unitOf(figures)
	times := w.column(len(figures))
	for i := range figures {
		times[i] = figures[i].at / unit
	}
	line := fitLine(times)
	for i := range times {
		times[i] -= line.at(i)
	}
	to = binary.AppendUvarint(to, uint64(unit)) // #nosec G115 -- one of three
	to = binary.AppendVarint(to, line.start)
	to = binary.AppendVarint(to, line.slope)
	return w.columns.append(to, times)
}

// times reads the times of a block in microseconds.
func (r *blockReader) times(into []int64) {
	unit := int64(r.uvarint()) // #nosec G115 -- any number will do
	line := timeline{start: r.varint(), slope: r.varint()}
	r.column(into)
	for i := range into {
		into[i] = (into[i] + line.at(i)) * unit
	}
}
