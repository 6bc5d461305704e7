package book

import (
	"encoding/binary"
	"fmt"
	"sync"

	"github.com/klauspost/compress/zstd"
)

// The data of a tail row is one zstd frame (RFC 8878, with its checksum) of
// sections, one per series:
//
//	series  uvarint
//	whole   byte: 1 where the section is all of the series that is in no block,
//	        so that what earlier rows say of it is void; else 0
//	length  uvarint, 0 where there are no readings
//	block   as block.go says, in the order of arrival, without a checksum
type section struct {
	series  int64
	whole   bool
	figures []figure
}

// maxTailRow bounds what a tail row may unfold to.
const maxTailRow = 64 << 20

var tailEncoder = sync.OnceValue(func() *zstd.Encoder {
	e, err := zstd.NewWriter(nil, zstd.WithEncoderConcurrency(1), zstd.WithEncoderLevel(zstd.SpeedFastest))
	if err != nil {
		panic(err) // the options are constants
	}
	return e
})

// appendSection adds a section to a row that is not yet compressed.
func (w *blockWriter) appendSection(to []byte, s section, known *clause) []byte {
	to = binary.AppendUvarint(to, uint64(s.series)) // #nosec G115 -- row ids are above 0
	whole := byte(0)
	if s.whole {
		whole = 1
	}
	to = append(to, whole)
	if len(s.figures) == 0 {
		return append(to, 0)
	}
	w.block = w.append(w.block[:0], s.series, s.figures, known)
	to = binary.AppendUvarint(to, uint64(len(w.block)))
	return append(to, w.block...)
}

// readTail gives the sections of a row of the series that are wanted; nil wants all.
func (r *blockReader) readTail(data []byte, wanted map[int64]bool, take func(section)) error {
	row, err := tailDecoder().DecodeAll(data, nil)
	if err != nil {
		return fmt.Errorf("tail row: %w", err)
	}
	rest := blockReader{rest: row}
	for len(rest.rest) > 0 && rest.err == nil {
		s := section{series: int64(rest.uvarint()), whole: rest.byte() == 1} // #nosec G115 -- checked against the series
		block := rest.bytes(rest.length())
		if rest.err != nil || wanted != nil && !wanted[s.series] {
			continue
		}
		if len(block) > 0 {
			if s.figures, err = r.figures(nil, block); err != nil {
				return fmt.Errorf("tail row: series %d: %w", s.series, err)
			}
		}
		take(s)
	}
	if rest.err != nil {
		return fmt.Errorf("tail row: %w", rest.err)
	}
	return nil
}

var tailDecoder = sync.OnceValue(func() *zstd.Decoder {
	d, err := zstd.NewReader(nil, zstd.WithDecoderConcurrency(0), zstd.WithDecoderMaxMemory(maxTailRow))
	if err != nil {
		panic(err) // the options are constants
	}
	return d
})
