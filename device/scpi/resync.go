package scpi

import (
	"context"
	"fmt"
	"time"
)

// mostQuiets bounds the wait for a quiet line, in times of quiet: an instrument
// that talks without end is asked all the same.
const mostQuiets = 10

// Resync starts a conversation, or puts it in step again. It throws away what has
// come, sends an empty message and *CLS, waits until nothing comes for the
// duration quiet, asks identify, reads until a line that is accepts, and
// waits a last quiet for anything that was late (S-77, S-P10, S-P11).
//
// Everything that came beside the accepted line is returned, escaped, for the
// record, also when Resync fails; then the conversation stays out of step. With
// an empty identify nothing is sent: it reads to the first line end, after which
// NextLine gives whole lines.
func (c *Conversation) Resync(ctx context.Context, identify string, is func(line string) bool, quiet time.Duration) (stale []string, err error) {
	if identify == "" {
		err = c.alignToLine(ctx)
	} else {
		err = c.resync(ctx, identify, is, quiet)
	}
	if err != nil {
		err = fmt.Errorf("resynchronising: %w", err)
	}
	return c.stale.take(), err
}

// alignToLine throws away everything up to the first line end.
func (c *Conversation) alignToLine(ctx context.Context) error {
	if err := c.forget(); err != nil {
		return err
	}
	text, err := c.in.next(ctx, maxLine)
	if err != nil {
		return err
	}
	c.in.tail = false
	c.stale.note(text)
	return nil
}

func (c *Conversation) resync(ctx context.Context, identify string, is func(string) bool, quiet time.Duration) error {
	if c.ending == "" {
		return c.unready // not a valid framing
	}
	c.unready = ErrOutOfStep
	if err := c.forget(); err != nil {
		return err
	}
	// The empty message ends whatever half a command the instrument holds.
	for _, message := range []string{"", "*CLS"} {
		if err := c.writeRaw(ctx, message); err != nil {
			return fmt.Errorf("sending %q: %w", message, err)
		}
	}
	if err := c.settle(ctx, quiet, mostQuiets*quiet); err != nil {
		return err
	}
	if err := c.write(ctx, identify); err != nil {
		return fmt.Errorf("asking %q: %w", identify, err)
	}
	if err := c.recognise(ctx, is); err != nil {
		return fmt.Errorf("asking %q: %w", identify, err)
	}
	if err := c.settle(ctx, quiet, quiet); err != nil {
		return err
	}
	c.unready = nil
	return nil
}

// forget throws away what is in the buffer, for the record, and what is in the
// line's.
func (c *Conversation) forget() error {
	if c.in.start < c.in.end {
		c.stale.note(c.in.waiting())
	}
	c.in.drop()
	c.in.tail = false
	return c.in.line.Discard()
}

// settle reads until nothing has come for quiet, at most for a time of most.
func (c *Conversation) settle(ctx context.Context, quiet, most time.Duration) error {
	all, cancel := context.WithTimeout(ctx, most)
	defer cancel()
	for {
		err := c.settleOnce(all, quiet)
		if err == nil && all.Err() == nil {
			continue
		}
		if ctx.Err() != nil {
			return silenceIfLate(ctx.Err())
		}
		if err != nil && !timedOut(err) {
			return err
		}
		c.in.tail = false
		if c.in.start < c.in.end {
			c.stale.note(c.in.waiting())
			c.in.drop()
		}
		return nil
	}
}

// settleOnce takes the lines that come within quiet.
func (c *Conversation) settleOnce(ctx context.Context, quiet time.Duration) error {
	once, cancel := context.WithTimeout(ctx, quiet)
	defer cancel()
	err := c.in.fill(once)
	for text, ok := c.in.cutFull(0); ok; text, ok = c.in.cutFull(0) {
		c.stale.note(text)
	}
	if c.in.end-c.in.start > maxLine {
		c.stale.note(c.in.waiting())
		c.in.drop()
	}
	return err
}

// recognise reads lines until one is accepted.
func (c *Conversation) recognise(ctx context.Context, is func(string) bool) error {
	for {
		if err := ctx.Err(); err != nil {
			return silenceIfLate(err)
		}
		text, err := c.in.next(ctx, maxLine)
		if _, isGarbage := err.(*GarbageError); isGarbage && ctx.Err() == nil {
			c.stale.lines = append(c.stale.lines, err.Error())
			continue
		}
		if err != nil {
			return err
		}
		if !c.in.tail && printable(text) && is(string(text)) {
			return nil
		}
		c.in.tail = false
		c.stale.note(text)
	}
}
