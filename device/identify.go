package device

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"soakline/device/scpi"
)

// Found is what is on a port.
type Found struct {
	// Port is the device that the address led to.
	Port string
	// Line is the setting at which it was understood.
	Line LineSettings
	// Identity is what it answers to *IDN?, after AnswerTime. Both are zero for an
	// instrument that only talks.
	Identity   scpi.Identity
	AnswerTime time.Duration
	Looks      Looks
	// Lines are some that it sent unasked.
	Lines []string
}

// Identify opens a port with one common setting after the other until an
// instrument answers *IDN? or talks by itself. Nothing but queries is sent, and
// *CLS, which empties the error queue. trying is told each setting before it is
// used. The error is the port's own, or an *Error, of kind Silence where nobody is
// there.
func Identify(ctx context.Context, address string, trying func(LineSettings)) (Found, error) {
	return identify(ctx, address, commonLines, openPort, look, trying)
}

// opener opens a port; looker finds out what an instrument is.
type (
	opener func(ctx context.Context, address string, line LineSettings) (Port, error)
	looker func(ctx context.Context, s *Session) (Looks, error)
)

func identify(ctx context.Context, address string, lines []LineSettings, open opener, look looker, trying func(LineSettings)) (Found, error) {
	noise := ""
	var tried []LineSettings
	for _, l := range lines {
		found, heard, err := identifyAt(ctx, address, l, open, look, trying)
		switch {
		case err == nil && (found.Identity.Text != "" || len(found.Lines) > 0):
			return found, nil
		case ctx.Err() != nil:
			return Found{}, ctx.Err()
		case err != nil && kindOf(err) == Unsuitable && len(tried) > 0:
			continue // a frame that this port does not have
		case err != nil:
			return Found{}, err
		}
		tried = append(tried, l)
		if heard {
			noise = "; something comes that is no text, so it may have another speed or frame"
		}
		if strings.HasPrefix(address, "tcp://") {
			break // its server sets the line
		}
	}
	return Found{}, &Error{Op: "identify", Port: address, Ask: identifyQuery, Kind: Silence,
		Hint: "Look at the instrument's interface settings (is remote control on, which speed?), its power and its cable (does it need a crossed one?).",
		Err:  fmt.Errorf("%w; tried %s%s", scpi.ErrSilence, saidTried(tried), noise)}
}

// identifyAt tries every ending at one setting of the line.
func identifyAt(ctx context.Context, address string, l LineSettings, open opener, look looker, trying func(LineSettings)) (found Found, noise bool, err error) {
	line, err := open(ctx, address, l)
	if err != nil {
		return Found{}, false, err
	}
	defer func() { err = errors.Join(err, line.Close()) }()
	talks := false
	for _, ending := range commonEndings {
		l.SendEnding = ending
		trying(l)
		result, err := try(ctx, line, l)
		if err == nil {
			found, err := getToKnow(ctx, line, l, result.identity, look)
			return found, noise, err
		}
		if kindOf(err) == Lost {
			return Found{}, noise, err
		}
		talks, noise = talks || len(result.talk) > 0, noise || result.noise
		if talks {
			break // what is sent to it helps nobody
		}
	}
	if !talks {
		return Found{}, noise, nil
	}
	l.SendEnding = commonEndings[0]
	lines, err := hearTalk(ctx, line, l)
	if err != nil && kindOf(err) == Lost {
		return Found{}, noise, err
	}
	if len(lines) == 0 {
		return Found{}, noise, nil // it stopped, so that it was no talk
	}
	return Found{Port: line.Name(), Line: l, Lines: lines, Looks: Looks{Kind: Talker}}, noise, nil
}

// getToKnow asks an instrument that answers how quick it is and what it can.
func getToKnow(ctx context.Context, line Port, l LineSettings, identity scpi.Identity, look looker) (Found, error) {
	found := Found{Port: line.Name(), Line: l, Identity: identity}
	s := newSession(Link{Name: identity.Text, Commands: CommandSet{Line: l, Identify: identifyQuery, ErrorCheck: ErrorCheck{Send: "SYST:ERR?"}}}, line.Name(), line)
	if _, err := s.resync(ctx); err != nil {
		return found, err
	}
	began := time.Now()
	answer, err := s.ask(ctx, "ask", identifyQuery, defaultAskTimeout)
	if err != nil {
		return found, err
	}
	found.AnswerTime = answer.At.Sub(began)
	if look == nil {
		return found, nil
	}
	found.Looks, err = look(ctx, s)
	return found, err
}

// FindLine is Identify without the questions that tell the kinds apart.
func FindLine(ctx context.Context, address string, trying func(LineSettings)) (LineSettings, error) {
	found, err := identify(ctx, address, commonLines, openPort, nil, trying)
	return found.Line, err
}
