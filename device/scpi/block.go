package scpi

import (
	"errors"
	"fmt"
	"io"
)

var (
	// ErrBadBlock says that bytes are no block of IEEE 488.2.
	ErrBadBlock = errors.New("not a block")
	// ErrBlockTooLong says that a block announces more bytes than are allowed.
	ErrBlockTooLong = errors.New("block too long")
	// ErrIndefiniteBlock says that a block has no length. On a line without END
	// nothing tells where it ends, because its data may hold line feeds (S-43).
	ErrIndefiniteBlock = errors.New("block of indefinite length")
)

// ParseBlock takes a block from the beginning of a whole message, without its
// line end, and returns its data and what follows (IEEE 488.2, 8.7.9 and 8.7.10;
// S-40 to S-42). A block of indefinite length, #0, reaches to the message's end.
// The results share message's memory. It fails with ErrBadBlock.
func ParseBlock(message []byte) (data, rest []byte, err error) {
	start, end, err := blockExtent(message)
	if err != nil {
		return nil, nil, err
	}
	return message[start:end], message[end:], nil
}

// blockExtent is where the data of the block lie that begins message.
func blockExtent[T ~string | ~[]byte](message T) (start, end int, err error) {
	if len(message) < 2 || message[0] != '#' || message[1] < '0' || message[1] > '9' {
		return 0, 0, fmt.Errorf("no # and digit: %w", ErrBadBlock)
	}
	start = 2 + int(message[1]-'0')
	if start == 2 {
		return 2, len(message), nil
	}
	if len(message) < start {
		return 0, 0, fmt.Errorf("length cut off: %w", ErrBadBlock)
	}
	length, err := blockLength(message[2:start])
	if err != nil {
		return 0, 0, err
	}
	if int64(len(message)-start) < length {
		return 0, 0, fmt.Errorf("%d bytes announced, %d there: %w", length, len(message)-start, ErrBadBlock)
	}
	return start, start + int(length), nil
}

// blockLength reads one to nine length digits.
func blockLength[T ~string | ~[]byte](digits T) (int64, error) {
	length := int64(0)
	for i := range len(digits) {
		if digits[i] < '0' || digits[i] > '9' {
			return 0, fmt.Errorf("length %q: %w", string(digits), ErrBadBlock)
		}
		length = length*10 + int64(digits[i]-'0')
	}
	return length, nil
}

// ReadBlock reads one definite-length block of at most maxBytes bytes of data from
// a stream, and not one byte more (IEEE 488.2, 8.7.9). It fails with ErrBadBlock,
// ErrBlockTooLong, ErrIndefiniteBlock, or with the stream's error, which is
// io.ErrUnexpectedEOF where the stream ends inside the block.
func ReadBlock(r io.Reader, maxBytes int) ([]byte, error) {
	var header [2 + 9]byte
	if _, err := io.ReadFull(r, header[:2]); err != nil {
		return nil, fmt.Errorf("reading a block's header: %w", err)
	}
	if header[0] != '#' || header[1] < '0' || header[1] > '9' {
		return nil, fmt.Errorf("%q: %w", header[:2], ErrBadBlock)
	}
	if header[1] == '0' {
		return nil, ErrIndefiniteBlock
	}
	digits := header[2 : 2+header[1]-'0']
	if _, err := io.ReadFull(r, digits); err != nil {
		return nil, fmt.Errorf("reading a block's length: %w", noCleanEnd(err))
	}
	length, err := blockLength(digits)
	if err != nil {
		return nil, err
	}
	if length > int64(maxBytes) {
		return nil, fmt.Errorf("%d bytes announced, %d allowed: %w", length, maxBytes, ErrBlockTooLong)
	}
	data := make([]byte, length)
	if n, err := io.ReadFull(r, data); err != nil {
		return nil, fmt.Errorf("reading byte %d of a block of %d: %w", n, length, noCleanEnd(err))
	}
	return data, nil
}

// noCleanEnd makes an end inside a block an unexpected one.
func noCleanEnd(err error) error {
	if errors.Is(err, io.EOF) {
		return io.ErrUnexpectedEOF
	}
	return err
}
