package book

import (
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"math"

	"github.com/klauspost/compress/zstd"

	"soakline/device/scpi"
)

const (
	blockForm = 1
	// mostInBlock bounds the readings of a block.
	mostInBlock = 4096
)

var (
	castagnoli = crc32.MakeTable(crc32.Castagnoli)
	errSum     = errors.New("its checksum does not fit")
)

// blockWriter encodes reading blocks; it has buffers that are used again.
type blockWriter struct {
	columns columnWriter
	ints    []int64
	block   []byte
}

func newBlockWriter() *blockWriter {
	e, err := zstd.NewWriter(nil, zstd.WithEncoderConcurrency(1), zstd.WithEncoderCRC(false))
	if err != nil {
		panic(err) // the options are constants
	}
	return &blockWriter{columns: columnWriter{packer: packer{zstd: e}}}
}

func (w *blockWriter) column(n int) []int64 {
	if cap(w.ints) < n {
		w.ints = make([]int64, max(n, mostInBlock))
	}
	return w.ints[:n]
}

// append adds a block of at least one figure of a series. Known is the clause that
// gave the uncertainties of the series before; it is brought up to date.
func (w *blockWriter) append(to []byte, series int64, figures []figure, known *clause) []byte {
	to = append(to, blockForm)
	to = binary.AppendUvarint(to, uint64(series)) // #nosec G115 -- row ids are above 0
	to = binary.AppendUvarint(to, uint64(len(figures)))
	to = w.appendTimes(to, figures)
	to = w.appendFigures(to, figures)
	to = w.appendUncertainties(to, figures, known)
	for i := range figures {
		f := &figures[i]
		if f.kind&^figureBeside == figureLong {
			to = binary.AppendUvarint(to, uint64(len(f.long)))
			to = append(to, f.long...)
		}
		if f.kind&figureBeside != 0 {
			to = appendFloat(to, f.value)
		}
	}
	return to
}

// appendFigures writes kinds, exponents and coefficients.
func (w *blockWriter) appendFigures(to []byte, figures []figure) []byte {
	column := w.column(len(figures))
	for i := range figures {
		column[i] = int64(figures[i].kind)
	}
	to = w.columns.append(to, column)
	for i := range figures {
		column[i] = int64(figures[i].exponent)
	}
	to = w.columns.append(to, column)
	for i := range figures {
		column[i] = figures[i].coefficient
	}
	return w.columns.append(to, column)
}

// appendSum adds the CRC-32C (RFC 3720, 12.1) of what is there, little endian.
func appendSum(to []byte) []byte {
	return binary.LittleEndian.AppendUint32(to, crc32.Checksum(to, castagnoli))
}

// cutSum checks the sum at the end and returns what is before it.
func cutSum(data []byte) ([]byte, error) {
	body := len(data) - 4
	if body < 0 {
		return nil, errBlockCut
	}
	if crc32.Checksum(data[:body], castagnoli) != binary.LittleEndian.Uint32(data[body:]) {
		return nil, errSum
	}
	return data[:body], nil
}

// begin reads how many readings a block has.
func (r *blockReader) begin(body []byte) int {
	r.rest, r.err = body, nil
	if form := r.byte(); form != blockForm {
		r.fail(fmt.Errorf("reading block of form %d", form))
	}
	r.series = int64(r.uvarint()) // #nosec G115 -- compared with what it should be
	count := r.uvarint()
	if count == 0 || count > mostInBlock {
		r.fail(fmt.Errorf("reading block of %d readings", count))
		return 0
	}
	return int(count) // #nosec G115 -- bounded by the lines above
}

// figures reads a block and appends its figures in the order in which they were
// written.
func (r *blockReader) figures(to []figure, body []byte) ([]figure, error) {
	count := r.begin(body)
	if r.err != nil {
		return to, r.err
	}
	have := len(to)
	to = append(to, make([]figure, count)...)
	figures, column := to[have:], make([]int64, count)
	r.times(column)
	for i := range figures {
		figures[i].at = column[i]
	}
	r.column(column)
	for i := range figures {
		figures[i].kind = figureKind(column[i]) // #nosec G115 -- finish refuses what is none
	}
	r.column(column)
	for i := range figures {
		figures[i].exponent = int32(column[i]) // #nosec G115 -- written from an int32
	}
	r.column(column)
	for i := range figures {
		figures[i].coefficient = column[i]
	}
	r.values(figures)
	r.uncertainties(figures)
	r.extras(figures)
	if r.err == nil && len(r.rest) > 0 {
		r.err = fmt.Errorf("reading block with %d bytes too many", len(r.rest))
	}
	if r.err != nil {
		return to[:have], r.err
	}
	return to, nil
}

// values gives the figures the value that their digits or bits tell.
func (r *blockReader) values(figures []figure) {
	for i := range figures {
		switch f := &figures[i]; f.kind &^ figureBeside {
		case figureDecimal:
			f.value = decimalValue(f.coefficient, f.exponent)
		case figureComputed:
			f.value = math.Float64frombits(uint64(f.coefficient)) // #nosec G115 -- the same 64 bits
		case figureLong:
		default:
			r.fail(fmt.Errorf("figure of kind %d", f.kind))
		}
	}
}

// decimalValue is the nearest float64, without a detour where operands are exact.
func decimalValue(coefficient int64, exponent int32) float64 {
	const exact = 1 << 53
	if exponent <= 0 && exponent >= -22 && coefficient <= exact && coefficient >= -exact {
		return float64(coefficient) / tens[-exponent]
	}
	return scpi.NewDecimal(coefficient, exponent).Float64()
}

// extras reads what does not fit into columns.
func (r *blockReader) extras(figures []figure) {
	for i := range figures {
		f := &figures[i]
		if f.kind&^figureBeside == figureLong {
			f.long = string(r.bytes(r.length()))
			digits, err := scpi.ParseDecimal(f.long)
			if err != nil {
				r.fail(fmt.Errorf("digits in the block: %w", err))
				return
			}
			f.value = digits.Float64()
		}
		if f.kind&figureBeside != 0 {
			f.value = r.float()
		}
	}
}
