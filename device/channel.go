package device

import (
	"context"
	"strings"
	"time"
)

// selectionHolds is how long after the last answer a selected channel is believed
// in. An instrument that was switched off and on between two questions has
// forgotten it, and would answer for another channel.
const selectionHolds = 2 * time.Second

// selectChannel switches the input, unless it is switched there already.
func (s *Session) selectChannel(ctx context.Context, channel string) error {
	how := s.link.Commands.Select
	if channel == "" || how == "" {
		return nil
	}
	if channel == s.selected && time.Since(s.heardAt) < selectionHolds {
		return nil
	}
	message := forChannel(how, channel)
	s.selected = ""
	if err := s.tell(ctx, "select channel", message); err != nil {
		return err
	}
	if err := wait(ctx, s.link.Commands.SelectSettle); err != nil {
		return s.failed("select channel", message, err)
	}
	s.selected = channel
	return nil
}

// forChannel puts the channel's name into a message.
func forChannel(message, channel string) string {
	return strings.ReplaceAll(message, "{channel}", channel)
}
