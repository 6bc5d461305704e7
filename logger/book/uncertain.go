package book

import (
	"encoding/binary"
	"fmt"
	"math"
)

// The uncertainties of a block are written as a byte and what that needs:
//
//	0  float64: the same for all
//	1  three float64: percent, fixed and resolution of a clause (NaN: the digits
//	   tell the resolution)
//	2  byte n, n+1 float64, then a plane: for each reading which of them
//	3  a column of the bits of each
//
// Floats are little endian.
const (
	uConstant = iota
	uClause
	uTable
	uColumn
)

func (w *blockWriter) appendUncertainties(to []byte, figures []figure, known *clause) []byte {
	if sameUncertainty(figures) {
		return appendFloat(append(to, uConstant), figures[0].u)
	}
	if onlyDecimals(figures) {
		if known.fits(figures) {
			return known.append(to)
		}
		if found, ok := findClause(figures); ok {
			*known = found
			return found.append(to)
		}
	}
	if table, which, ok := w.tabulate(figures); ok {
		to = append(to, uTable, byte(len(table)-1))
		for _, u := range table {
			to = appendFloat(to, u)
		}
		return w.columns.packer.append(to, which)
	}
	column := w.column(len(figures))
	for i := range figures {
		column[i] = int64(math.Float64bits(figures[i].u)) // #nosec G115 -- the same 64 bits
	}
	return w.columns.append(append(to, uColumn), column)
}

func (c clause) append(to []byte) []byte {
	return appendFloat(appendFloat(appendFloat(append(to, uClause), c.percent), c.fixed), c.resolution)
}

func appendFloat(to []byte, v float64) []byte {
	return binary.LittleEndian.AppendUint64(to, math.Float64bits(v))
}

func sameUncertainty(figures []figure) bool {
	first := math.Float64bits(figures[0].u)
	for i := range figures {
		if math.Float64bits(figures[i].u) != first {
			return false
		}
	}
	return true
}

func onlyDecimals(figures []figure) bool {
	for i := range figures {
		if figures[i].kind != figureDecimal {
			return false
		}
	}
	return true
}

// tabulate lists the distinct uncertainties where there are few for the number of
// readings.
func (w *blockWriter) tabulate(figures []figure) (table []float64, which []byte, ok bool) {
	most := min(len(figures)/2, 256)
	index := make(map[uint64]byte, most)
	which = make([]byte, len(figures))
	for i := range figures {
		bits := math.Float64bits(figures[i].u)
		n, seen := index[bits]
		if !seen {
			if len(table) == most {
				return nil, nil, false
			}
			n = byte(len(table)) // #nosec G115 -- less than most
			index[bits] = n
			table = append(table, figures[i].u)
		}
		which[i] = n
	}
	return table, which, true
}

// uncertainties reads them into figures that have all else.
func (r *blockReader) uncertainties(figures []figure) {
	switch form := r.byte(); form {
	case uConstant:
		u := r.float()
		for i := range figures {
			figures[i].u = u
		}
	case uClause:
		c := clause{r.float(), r.float(), r.float()}
		for i := range figures {
			figures[i].u = c.u(&figures[i])
		}
	case uTable:
		table := make([]float64, int(r.byte())+1)
		for i := range table {
			table[i] = r.float()
		}
		which := r.plane(len(figures))
		r.unpackPlane(which)
		for i, n := range which {
			if int(n) >= len(table) {
				r.fail(errColumn)
				return
			}
			figures[i].u = table[n]
		}
	case uColumn:
		column := make([]int64, len(figures))
		r.column(column)
		for i, bits := range column {
			figures[i].u = math.Float64frombits(uint64(bits)) // #nosec G115 -- the same 64 bits
		}
	default:
		r.fail(fmt.Errorf("uncertainties of form %d", form))
	}
}
