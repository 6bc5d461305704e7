package device

import (
	"context"
	"fmt"
	"strings"
	"time"

	"soakline/device/scpi"
)

// Session is an open conversation with one instrument. Its methods ask; whoever
// opened the port closes it. It is for one goroutine.
type Session struct {
	link     Link
	portName string
	talk     *scpi.Conversation
	// identity is who answers; zero as long as nobody has.
	identity scpi.Identity
	// remembered is who answered for each instrument of the bench before this run.
	remembered map[string]string
	// selected is the channel that the instrument's input is switched to.
	selected string
	// heardAt is when the instrument last gave an answer.
	heardAt time.Time
}

const (
	defaultAskTimeout     = 2 * time.Second
	defaultCaptureTimeout = 10 * time.Second
	// messageTimeout is how long a message that sets something may take, or the
	// answer that it ends with ("*RST;*OPC?").
	messageTimeout = 10 * time.Second
)

// NewSession gets in step with the instrument on an open line, learns who it is
// and prepares it. The command set must be one that can be asked.
func NewSession(ctx context.Context, link Link, portName string, line scpi.Line) (*Session, error) {
	s := newSession(link, portName, line)
	if _, err := s.resync(ctx); err != nil {
		return nil, err
	}
	return s, nil
}

// newSession is NewSession before anything is sent.
func newSession(link Link, portName string, line scpi.Line) *Session {
	return &Session{link: link, portName: portName,
		talk: scpi.NewConversation(line, scpi.Framing{SendEnding: link.Commands.Line.SendEnding})}
}

// Identity is what the instrument answered to the question who it is; the zero
// Identity if it is never asked.
func (s *Session) Identity() scpi.Identity { return s.identity }

// Read asks for one measure on one channel. An answer that stands for no figure
// is an Error of kind Overflow, never a Reading.
func (s *Session) Read(ctx context.Context, channel string, measure Measure) (Reading, error) {
	ask, ok := s.link.Commands.AskFor(measure)
	if !ok {
		return Reading{}, s.failed("ask", string(measure), fmt.Errorf("%w %q", errUnsuitable, s.link.Commands.Name))
	}
	if err := s.selectChannel(ctx, channel); err != nil {
		return Reading{}, err
	}
	query := forChannel(ask.Send, channel)
	answer, err := s.ask(ctx, "ask", query, or(ask.Timeout, defaultAskTimeout))
	if err != nil {
		return Reading{}, err
	}
	reading, err := ask.reading(answer)
	if err != nil {
		return Reading{}, s.failed("ask", query, err)
	}
	return reading, nil
}

// Errors drains the instrument's error queue.
func (s *Session) Errors(ctx context.Context) ([]scpi.InstrumentError, error) {
	query := s.link.Commands.ErrorCheck.Send
	if query == "" {
		return nil, nil
	}
	ctx, cancel := context.WithTimeout(ctx, startTimeout+defaultAskTimeout)
	defer cancel()
	entries, err := s.talk.DrainErrors(ctx, query)
	if err != nil {
		return entries, s.failed("read the error queue", query, err)
	}
	return entries, nil
}

// Release sends what the command set says at parting.
func (s *Session) Release(ctx context.Context) error {
	return s.tellAll(ctx, "release", s.link.Commands.Release)
}

// ask asks what one line answers. Beside lines that nobody asked for an answer is
// suspect: it may be theirs, so it is refused.
func (s *Session) ask(ctx context.Context, op, query string, patience time.Duration) (scpi.Answer, error) {
	ctx, cancel := context.WithTimeout(ctx, patience)
	defer cancel()
	answer, err := s.talk.Ask(ctx, query)
	return answer, s.doubt(op, query, answer, err)
}

// doubt returns what speaks against an answer, and notes a good one.
func (s *Session) doubt(op, query string, answer scpi.Answer, err error) error {
	switch {
	case err != nil:
		return s.failed(op, query, err)
	case len(answer.Stale) > 0:
		return s.failed(op, query, fmt.Errorf("lines that nobody asked for came before the answer: %q", answer.Stale))
	case strings.TrimSpace(answer.Text) == "":
		return s.failed(op, query, fmt.Errorf("the answer %q is empty", answer.Text))
	}
	s.heardAt = answer.At
	return nil
}

// tell sends a message that sets something. One that is a query must be asked, or
// its answer would be taken for that of the next; that it comes is what counts.
func (s *Session) tell(ctx context.Context, op, message string) error {
	if scpi.IsQuery(message) {
		_, err := s.ask(ctx, op, message, messageTimeout)
		return err
	}
	ctx, cancel := context.WithTimeout(ctx, messageTimeout)
	defer cancel()
	if err := s.talk.Send(ctx, message); err != nil {
		return s.failed(op, message, err)
	}
	return nil
}

func (s *Session) tellAll(ctx context.Context, op string, messages []string) error {
	for _, message := range messages {
		if err := s.tell(ctx, op, message); err != nil {
			return err
		}
	}
	return nil
}

// failed wraps a cause with what was being done.
func (s *Session) failed(op, message string, err error) error {
	return &Error{Op: op, Instrument: s.link.Name, Port: s.portName, Ask: message, Kind: kindOf(err), Err: err}
}

// or returns the duration, or the default where it is not given.
func or(given, otherwise time.Duration) time.Duration {
	if given > 0 {
		return given
	}
	return otherwise
}

// wait waits, unless the context ends first.
func wait(ctx context.Context, d time.Duration) error {
	if d <= 0 {
		return ctx.Err()
	}
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case <-ctx.Done():
		return ctx.Err()
	case <-timer.C:
		return nil
	}
}
