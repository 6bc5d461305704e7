package device

import (
	"context"
	"fmt"
	"regexp"
	"strings"
	"time"

	"soakline/device/scpi"
)

const (
	// quietTime is how long a line must be silent before a conversation begins:
	// longer than the pause between two bytes at 1200 baud.
	quietTime = 50 * time.Millisecond
	// startTimeout bounds getting in step, beside the wait for the answer, and the
	// emptying of an error queue.
	startTimeout = time.Second
)

// resync gets in step, learns who answers, and prepares the instrument, which may
// have been switched off meanwhile. What arrived before it was in step belongs to
// older questions; it is returned for the record, also when resync fails.
func (s *Session) resync(ctx context.Context) (stale []string, err error) {
	s.selected = ""
	if stale, err = s.getInStep(ctx); err != nil {
		return stale, err
	}
	return stale, s.tellAll(ctx, "prepare", s.link.Commands.Prepare)
}

// getInStep is resync without the preparation.
func (s *Session) getInStep(ctx context.Context) ([]string, error) {
	var answered scpi.Identity
	query, proves, patience := s.proof(&answered)
	ctx, cancel := context.WithTimeout(ctx, patience+startTimeout)
	defer cancel()
	if query == "" {
		return nil, &Error{Op: "identify", Instrument: s.link.Name, Port: s.portName, Kind: Unsuitable,
			Hint: "Give the command set an identify question.", Err: fmt.Errorf("%w %q: any question that can be asked", errUnsuitable, s.link.Commands.Name)}
	}
	stale, err := s.talk.Resync(ctx, query, proves, quietTime)
	if err != nil {
		return stale, s.failed("get in step", query, err)
	}
	s.heardAt = time.Now()
	if s.link.Commands.Identify == "" {
		return stale, nil
	}
	return stale, s.recognise(ctx, answered)
}

// proof is the question whose answer proves that the conversation is in step: who
// are you, or failing that the error queue, or failing that any figure. An answer
// may take patience.
func (s *Session) proof(answered *scpi.Identity) (query string, proves func(line string) bool, patience time.Duration) {
	commands := &s.link.Commands
	if commands.Identify != "" {
		return commands.Identify, func(line string) (ok bool) {
			identity, err := scpi.ParseIdentity(line)
			*answered = identity
			return err == nil
		}, defaultAskTimeout
	}
	if commands.ErrorCheck.Send != "" {
		return commands.ErrorCheck.Send, func(line string) bool {
			_, err := scpi.ParseInstrumentError(line)
			return err == nil
		}, defaultAskTimeout
	}
	for _, ask := range commands.Asks {
		if !strings.Contains(ask.Send, "{channel}") {
			return ask.Send, func(line string) bool {
				_, err := figure(line, ask)
				return err == nil || kindOf(err) == Overflow
			}, or(ask.Timeout, defaultAskTimeout)
		}
	}
	return "", nil, 0
}

// recognise refuses an instrument that is not the one the bench means: another
// model than the command set is for, or another piece than was there before. Two
// adapters that swapped names would otherwise swap their readings. A new name is
// believed when it has been said twice: a bad line garbles it, too.
func (s *Session) recognise(ctx context.Context, answered scpi.Identity) error {
	if answered == s.identity {
		return nil
	}
	query := s.link.Commands.Identify
	again, err := s.talk.Identify(ctx, query)
	if err != nil {
		return s.failed("identify", query, err)
	}
	if again != answered {
		return s.failed("identify", query, fmt.Errorf("two answers that differ: %q and %q", answered.Text, again.Text))
	}
	if s.identity != (scpi.Identity{}) {
		return s.stranger(fmt.Errorf("%s answers where %s was", answered.Text, s.identity.Text))
	}
	if owner := s.rememberedAs(answered.Text); owner != "" {
		return &Error{Op: "identify", Instrument: s.link.Name, Port: s.portName, Ask: query, Kind: Stranger,
			Hint: putBack + "or end the soaks that go on and start again if the instruments were moved on purpose.",
			Err:  fmt.Errorf("%s answers, which was instrument %s before the program started", answered.Text, owner)}
	}
	if err := s.suits(answered); err != nil {
		return err
	}
	s.identity = answered
	return nil
}

// rememberedAs names the other instrument that gave this answer before this run;
// empty if none did, or if this one gave it as well.
func (s *Session) rememberedAs(text string) (owner string) {
	if s.remembered[s.link.Name] == text {
		return ""
	}
	for name, answered := range s.remembered {
		if answered == text && (owner == "" || name < owner) {
			owner = name
		}
	}
	return owner
}

// suits tells whether the command set is for this instrument.
func (s *Session) suits(answered scpi.Identity) error {
	pattern := s.link.Commands.IdentifyPattern
	if pattern == "" {
		return nil
	}
	fits, err := regexp.MatchString(pattern, answered.Text)
	if err != nil {
		return s.failed("identify", s.link.Commands.Identify, fmt.Errorf("%w: pattern of the identity: %w", errUnsuitable, err))
	}
	if !fits {
		return s.stranger(fmt.Errorf("%s answers, and command set %q is for %q", answered.Text, s.link.Commands.Name, pattern))
	}
	return nil
}

func (s *Session) stranger(err error) error {
	return &Error{Op: "identify", Instrument: s.link.Name, Port: s.portName, Ask: s.link.Commands.Identify, Kind: Stranger,
		Hint: putBack + "or start again if the instrument was replaced.", Err: err}
}

const putBack = "Put the cables back as they were, "
