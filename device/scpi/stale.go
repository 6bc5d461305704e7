package scpi

import (
	"context"
	"fmt"
	"time"
)

const (
	mostStale      = 64      // lines that are told one by one
	mostStaleBytes = 1 << 20 // waiting before a question; beyond it the line is not in order
)

// staleLines are lines that came unasked, until they are told.
type staleLines struct {
	lines []string
	more  int
}

// note adds a line as it came.
func (s *staleLines) note(text []byte) {
	if len(s.lines) >= mostStale {
		s.more++
		return
	}
	s.lines = append(s.lines, Escape(text))
}

// keep adds lines that were taken and could not be told.
func (s *staleLines) keep(lines []string) { s.lines = append(s.lines, lines...) }

// take returns the lines and forgets them.
func (s *staleLines) take() []string {
	lines := s.lines
	if s.more > 0 {
		lines = append(lines, fmt.Sprintf("... and %d more lines", s.more))
	}
	*s = staleLines{}
	return lines
}

// atOnce is a context that is over: a Read with it brings what has arrived.
var atOnce = func() context.Context {
	ctx, cancel := context.WithDeadline(context.Background(), time.Time{})
	cancel()
	return ctx
}()

// takeWaiting makes stale what has come before a question. A line that has only
// begun stays, marked so that its rest is not taken for the answer.
func (c *Conversation) takeWaiting() error {
	for total := 0; ; {
		for text, ok := c.in.cutFull(0); ok; text, ok = c.in.cutFull(0) {
			c.in.tail = false
			c.stale.note(text)
		}
		c.in.tail = c.in.tail || c.in.start < c.in.end
		if total > mostStaleBytes || c.in.end-c.in.start > maxLine {
			return c.in.giveUp("more and more comes unasked")
		}
		before := c.in.end - c.in.start
		if err := c.in.fill(atOnce); timedOut(err) {
			return nil
		} else if err != nil {
			return err
		}
		total += c.in.end - c.in.start - before
	}
}
