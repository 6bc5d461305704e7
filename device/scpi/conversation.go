package scpi

import (
	"context"
	"errors"
	"fmt"
	"time"
)

// Conversation asks an instrument over a Line, one question at a time. After a
// question that failed it refuses to ask again until Resync has succeeded: so an
// answer that comes late is never taken for the answer to the next question.
// It is for one goroutine, starts none, and does not close its Line.
type Conversation struct {
	in     lineBuffer
	out    []byte // what is sent next, reused
	ending string
	// unready is set while no question may be asked.
	unready error
	stale   staleLines
}

// Answer is one line from an instrument.
type Answer struct {
	// Text is the line without its ending: printable ASCII and tabs.
	Text string
	// At is when its last byte arrived, to the microsecond; it carries the
	// monotonic clock.
	At time.Time
	// Stale are lines that were there before the question was sent, escaped:
	// somebody else's answers. They are told here once and are nobody's reading.
	Stale []string
}

// NewConversation returns a conversation over line. If framing is not valid,
// everything that sends fails.
func NewConversation(line Line, framing Framing) *Conversation {
	return &Conversation{
		in:      lineBuffer{line: line, bareCR: framing.SendEnding == "cr", buf: make([]byte, firstBuffer)},
		ending:  endings[framing.SendEnding],
		unready: framing.Validate(),
	}
}

// Send sends a message that has no answer. A query is refused, because its answer
// would be taken for the answer to the next question.
func (c *Conversation) Send(ctx context.Context, message string) error {
	if IsQuery(message) {
		return fmt.Errorf("sending %q: %w: it is a query and must be asked", message, ErrBadMessage)
	}
	if err := c.write(ctx, message); err != nil {
		return fmt.Errorf("sending %q: %w", message, err)
	}
	return nil
}

// Ask sends a query and waits for one line, which may hold several answers (see
// SplitResponse). It fails with ErrSilence, ErrGarbage, ErrOutOfStep, or an error
// of the line. ctx should have a deadline: nothing else ends the wait.
func (c *Conversation) Ask(ctx context.Context, query string) (Answer, error) {
	return c.AskLong(ctx, query, maxLine)
}

// AskLong is Ask for an answer of up to maxBytes, such as a scope record as text.
func (c *Conversation) AskLong(ctx context.Context, query string, maxBytes int) (Answer, error) {
	if err := c.question(ctx, query); err != nil {
		return Answer{}, fmt.Errorf("asking %q: %w", query, err)
	}
	text, err := c.answer(ctx, maxBytes)
	if err == nil && string(text) == query {
		err = garbage(text, "the line echoes what is sent to it")
	}
	if err != nil {
		return Answer{}, fmt.Errorf("asking %q: %w", query, err)
	}
	c.unready = nil
	return Answer{Text: string(text), At: c.in.arrived, Stale: c.stale.take()}, nil
}

// NextLine waits for a line that the instrument sends unasked. The first one
// after opening may be the tail of a line (S-P10): Resync takes it away. A
// failure leaves the conversation as it was, and the next line can be waited for.
func (c *Conversation) NextLine(ctx context.Context) (Answer, error) {
	tail := c.in.tail
	text, err := c.in.next(ctx, maxLine)
	if err != nil {
		return Answer{}, fmt.Errorf("listening: %w", err)
	}
	c.in.tail = false
	if tail {
		return Answer{}, fmt.Errorf("listening: %w", garbage(text, "the rest of a line"))
	}
	if !printable(text) {
		return Answer{}, fmt.Errorf("listening: %w", garbage(text, "bytes that no answer has"))
	}
	return Answer{Text: string(text), At: c.in.arrived, Stale: c.stale.take()}, nil
}

// DrainErrors asks the instrument's error queue until it says "no error" and
// returns its entries in order. On ErrEndlessQueue the entries so far are returned.
func (c *Conversation) DrainErrors(ctx context.Context, query string) ([]InstrumentError, error) {
	var entries []InstrumentError
	for len(entries) < longestQueue {
		answer, err := c.Ask(ctx, query)
		if err != nil {
			return entries, err
		}
		c.stale.keep(answer.Stale)
		entry, err := ParseInstrumentError(answer.Text)
		if err != nil {
			return entries, c.mistaken(query, answer, err)
		}
		if entry.Code == 0 {
			return entries, nil
		}
		entries = append(entries, entry)
	}
	return entries, fmt.Errorf("asking %q %d times: %w", query, longestQueue, ErrEndlessQueue)
}

// Identify asks who the instrument is.
func (c *Conversation) Identify(ctx context.Context, query string) (Identity, error) {
	answer, err := c.Ask(ctx, query)
	if err != nil {
		return Identity{}, err
	}
	c.stale.keep(answer.Stale)
	identity, err := ParseIdentity(answer.Text)
	if err != nil {
		return Identity{}, c.mistaken(query, answer, err)
	}
	return identity, nil
}

// mistaken is for an answer that cannot be one to its question: most likely it
// belongs to another, so the conversation is out of step.
func (c *Conversation) mistaken(query string, answer Answer, err error) error {
	c.unready = ErrOutOfStep
	return fmt.Errorf("asking %q: %w", query, garbage([]byte(answer.Text), err.Error()))
}

// question looks for lines that are nobody's, and sends the query. From here
// until the answer has come the conversation is out of step.
func (c *Conversation) question(ctx context.Context, query string) error {
	if c.unready != nil {
		return c.unready
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	if err := c.takeWaiting(); err != nil {
		c.unready = ErrOutOfStep
		return err
	}
	if err := c.write(ctx, query); err != nil {
		return err
	}
	c.unready = ErrOutOfStep
	return nil
}

// answer waits for a line of printable text; the rest of a line that had begun
// before the question is stale.
func (c *Conversation) answer(ctx context.Context, limit int) ([]byte, error) {
	for {
		text, err := c.in.next(ctx, limit)
		switch {
		case err != nil:
			return nil, err
		case c.in.tail:
			c.in.tail = false
			c.stale.note(text)
		case !printable(text):
			return nil, garbage(text, "bytes that no answer has")
		default:
			return text, nil
		}
	}
}

// write sends one message with its ending. After a failure half of it may be on
// its way, so that the instrument would glue the next message to it.
func (c *Conversation) write(ctx context.Context, message string) error {
	if c.unready != nil && !errors.Is(c.unready, ErrOutOfStep) {
		return c.unready
	}
	if err := ValidMessage(message); err != nil {
		return err
	}
	return c.writeRaw(ctx, message)
}

func (c *Conversation) writeRaw(ctx context.Context, message string) error {
	c.out = append(append(c.out[:0], message...), c.ending...)
	err := c.in.line.Write(ctx, c.out)
	if err != nil {
		c.unready = ErrOutOfStep
	}
	return err
}

// printable tells whether text has only what an answer can have: printable ASCII
// and tabs. NUL, XON, XOFF and bytes above 0x7E show a wrong speed, a restart or
// a disturbed cable.
func printable(text []byte) bool {
	for _, b := range text {
		if (b < ' ' && b != '\t') || b > '~' {
			return false
		}
	}
	return true
}
