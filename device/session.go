package device

import (
	"context"
	"fmt"
	"regexp"
	"strings"
	"time"

	"soakline/device/scpi"
)

// Session is an open conversation with one instrument. Its methods ask; whoever
// opened the port closes it.
type Session struct {
	link     Link
	portName string
	talk     *scpi.Conversation
	identity scpi.Identity
	// selected is the channel that the instrument's input is switched to.
	selected string
}

const (
	defaultAskTimeout     = 2 * time.Second
	defaultCaptureTimeout = 10 * time.Second
	// quietTime is how long a line must be silent before a conversation begins:
	// longer than the pause between two bytes at 1200 baud.
	quietTime = 50 * time.Millisecond
	// startTimeout bounds getting in step at the start and after trouble.
	startTimeout = 3 * time.Second
)

// NewSession gets in step with the instrument on an open line, learns who it is
// and prepares it. The command set must be one that can be asked.
func NewSession(ctx context.Context, link Link, portName string, line scpi.Line) (*Session, error) {
	s := &Session{link: link, portName: portName}
	s.talk = scpi.NewConversation(line, scpi.Framing{SendEnding: link.Commands.Line.SendEnding})
	if err := s.Resync(ctx); err != nil {
		return nil, err
	}
	return s, nil
}

// Identity is what the instrument answered to the question who it is; the zero
// Identity if it is never asked.
func (s *Session) Identity() scpi.Identity { return s.identity }

// Resync gets in step again and prepares the instrument, which may have been
// switched off meanwhile. Whatever arrives before it has said who it is belongs
// to an older question and is thrown away.
func (s *Session) Resync(ctx context.Context) error {
	ctx, cancel := context.WithTimeout(ctx, startTimeout)
	defer cancel()
	s.selected = ""
	query := s.link.Commands.Identify
	known := s.identity
	_, err := s.talk.Resync(ctx, query, func(line string) bool {
		identity, err := scpi.ParseIdentity(line)
		if err != nil {
			return false
		}
		s.identity = identity
		return true
	}, quietTime)
	if err != nil {
		return s.failed("identify", query, err)
	}
	if err := s.recognise(known); err != nil {
		return err
	}
	for _, message := range s.link.Commands.Prepare {
		if err := s.talk.Send(ctx, message); err != nil {
			return s.failed("prepare", message, err)
		}
	}
	return nil
}

// recognise refuses an instrument that is not the one the bench means: another
// model than the command set is for, or another piece than was there before. Two
// adapters that swapped names would otherwise swap their readings.
func (s *Session) recognise(known scpi.Identity) error {
	if known != (scpi.Identity{}) && known != s.identity {
		return s.stranger(fmt.Errorf("%s answers where %s was", s.identity.Text, known.Text))
	}
	pattern := s.link.Commands.IdentifyPattern
	if pattern == "" {
		return nil
	}
	fits, err := regexp.MatchString(pattern, s.identity.Text)
	if err != nil {
		return fmt.Errorf("pattern of the identity: %w", err)
	}
	if !fits {
		return s.stranger(fmt.Errorf("%s answers, and command set %q is for %q", s.identity.Text, s.link.Commands.Name, pattern))
	}
	return nil
}

func (s *Session) stranger(err error) error {
	return &Error{Op: "identify", Instrument: s.link.Name, Port: s.portName, Ask: s.link.Commands.Identify, Kind: Stranger,
		Hint: "Put the cables back as they were, or start again if the instrument was replaced.", Err: err}
}

// Read asks for one measure on one channel. An answer that stands for no figure
// is an Error of kind Overflow, never a Reading.
func (s *Session) Read(ctx context.Context, channel string, measure Measure) (Reading, error) {
	ask, ok := s.link.Commands.AskFor(measure)
	if !ok {
		return Reading{}, s.failed("ask", string(measure), fmt.Errorf("%w %q", errUnsuitable, s.link.Commands.Name))
	}
	ctx, cancel := context.WithTimeout(ctx, or(ask.Timeout, defaultAskTimeout))
	defer cancel()
	if err := s.selectChannel(ctx, channel); err != nil {
		return Reading{}, err
	}
	query := forChannel(ask.Send, channel)
	answer, err := s.talk.Ask(ctx, query)
	if err != nil {
		return Reading{}, s.failed("ask", query, err)
	}
	if len(answer.Stale) > 0 {
		return Reading{}, s.failed("ask", query, fmt.Errorf("lines that nobody asked for came before: %q", answer.Stale))
	}
	digits, err := figure(answer.Text, ask)
	if err != nil {
		return Reading{}, s.failed("ask", query, err)
	}
	return Reading{Measure: measure, Value: digits.Float64(), Digits: digits, At: answer.At}, nil
}

// selectChannel switches the input, unless it is switched there already.
func (s *Session) selectChannel(ctx context.Context, channel string) error {
	if channel == "" || s.link.Commands.Select == "" || channel == s.selected {
		return nil
	}
	message := forChannel(s.link.Commands.Select, channel)
	s.selected = ""
	if err := s.talk.Send(ctx, message); err != nil {
		return s.failed("select channel", message, err)
	}
	if err := wait(ctx, s.link.Commands.SelectSettle); err != nil {
		return s.failed("select channel", message, err)
	}
	s.selected = channel
	return nil
}

// Errors drains the instrument's error queue.
func (s *Session) Errors(ctx context.Context) ([]scpi.InstrumentError, error) {
	query := s.link.Commands.ErrorCheck.Send
	if query == "" {
		return nil, nil
	}
	ctx, cancel := context.WithTimeout(ctx, startTimeout)
	defer cancel()
	entries, err := s.talk.DrainErrors(ctx, query)
	if err != nil {
		return entries, s.failed("read the error queue", query, err)
	}
	return entries, nil
}

// SwitchOutput turns the instrument's output on or off.
func (s *Session) SwitchOutput(ctx context.Context, on bool) error {
	output := s.link.Commands.Output
	if output == nil {
		return s.failed("switch output", "", fmt.Errorf("%w %q", errUnsuitable, s.link.Commands.Name))
	}
	message := output.Off
	if on {
		message = output.On
	}
	if err := s.talk.Send(ctx, message); err != nil {
		return s.failed("switch output", message, err)
	}
	return nil
}

// Release sends what the command set says at parting.
func (s *Session) Release(ctx context.Context) error {
	for _, message := range s.link.Commands.Release {
		if err := s.talk.Send(ctx, message); err != nil {
			return s.failed("release", message, err)
		}
	}
	return nil
}

// failed wraps a cause with what was being done.
func (s *Session) failed(op, message string, err error) error {
	return &Error{Op: op, Instrument: s.link.Name, Port: s.portName, Ask: message, Kind: kindOf(err), Err: err}
}

// forChannel puts the channel's name into a message.
func forChannel(message, channel string) string {
	return strings.ReplaceAll(message, "{channel}", channel)
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
