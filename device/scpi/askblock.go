package scpi

import (
	"context"
	"fmt"
	"time"
)

// AskBlock sends a query that is answered by one definite-length block of at most
// maxBytes bytes, reads it and the line end behind it (S-45). arrived is when the
// last byte came. It fails as Ask and ReadBlock do; whatever the failure, the
// conversation is then out of step. Lines that were waiting before the question
// are told by the next Answer.
func (c *Conversation) AskBlock(ctx context.Context, query string, maxBytes int) (data []byte, arrived time.Time, err error) {
	if err := c.question(ctx, query); err != nil {
		return nil, time.Time{}, fmt.Errorf("asking %q for a block: %w", query, err)
	}
	data, err = c.block(ctx, maxBytes)
	if err != nil {
		return nil, time.Time{}, fmt.Errorf("asking %q for a block: %w", query, err)
	}
	c.unready = nil
	return data, c.in.arrived, nil
}

// block reads one block and what ends the message.
func (c *Conversation) block(ctx context.Context, maxBytes int) ([]byte, error) {
	if err := c.toBlock(ctx); err != nil {
		return nil, err
	}
	data, err := ReadBlock(readerFunc(func(p []byte) (int, error) { return c.in.take(ctx, p) }), maxBytes)
	if timedOut(err) {
		return nil, &GarbageError{Why: "the block did not come to its end in time: " + err.Error()}
	}
	if err != nil {
		return nil, err
	}
	rest, err := c.in.restOfLine(ctx)
	if err != nil {
		return nil, fmt.Errorf("after the block: %w", err)
	}
	if len(rest) > 0 {
		return nil, garbage(rest, "more than a line end after the block")
	}
	return data, nil
}

// toBlock skips line ends up to the first byte of a block. The rest of a line that
// had begun before the question is stale; a line that is no block is garbage.
func (c *Conversation) toBlock(ctx context.Context) error {
	for c.in.tail {
		text, err := c.in.next(ctx, maxLine)
		if err != nil {
			return err
		}
		c.in.tail = false
		c.stale.note(text)
	}
	first, err := c.in.firstByte(ctx)
	if err != nil || first == '#' {
		return err
	}
	text, err := c.in.next(ctx, maxLine)
	if err != nil {
		return err
	}
	return garbage(text, "no block")
}

// readerFunc is a function as an io.Reader.
type readerFunc func(p []byte) (int, error)

func (f readerFunc) Read(p []byte) (int, error) { return f(p) }
