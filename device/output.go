package device

import (
	"context"
	"errors"
	"fmt"
	"strings"
)

// errNotSwitched is the cause where an output says that it is as it was.
var errNotSwitched = errors.New("the output did not follow the command")

// SwitchOutput turns the output of a channel on or off, and asks how it is then where
// the command set knows how. An output that did not follow is an error of kind
// Refused.
func (s *Session) SwitchOutput(ctx context.Context, channel string, on bool) error {
	output := s.link.Commands.Output
	if output == nil {
		return s.failed("switch output", "", fmt.Errorf("%w %q", errUnsuitable, s.link.Commands.Name))
	}
	if err := s.selectChannel(ctx, channel); err != nil {
		return err
	}
	send, want := output.Off, output.OffIs
	if on {
		send, want = output.On, output.OnIs
	}
	if err := s.tell(ctx, "switch output", forChannel(send, channel)); err != nil || output.Ask == "" {
		return err
	}
	query := forChannel(output.Ask, channel)
	answer, err := s.ask(ctx, "ask how the output is", query, defaultAskTimeout)
	if err != nil {
		return err
	}
	switch is := strings.TrimSpace(answer.Text); is {
	case want:
		return nil
	case output.OnIs, output.OffIs:
		return &Error{Op: "ask how the output is", Instrument: s.link.Name, Port: s.portName, Ask: query, Kind: Refused,
			Hint: "Look at the instrument: a lock, a protection that has tripped, or remote control that is off.",
			Err:  fmt.Errorf("%w: after %q it answers %q", errNotSwitched, send, is)}
	default:
		return s.failed("ask how the output is", query, fmt.Errorf("the answer %q is neither %q nor %q", is, output.OnIs, output.OffIs))
	}
}
