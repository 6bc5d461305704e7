package device

import (
	"context"
	"fmt"
	"regexp"
	"strings"
	"time"

	"soakline/device/scpi"
)

// talker understands the lines of an instrument that talks unasked.
type talker struct {
	listen  *Listen
	pattern *regexp.Regexp
}

// newTalker compiles the command set's pattern.
func newTalker(listen *Listen) (*talker, error) {
	pattern, err := regexp.Compile(listen.Pattern)
	if err != nil {
		return nil, fmt.Errorf("pattern of a talking instrument: %w", err)
	}
	return &talker{listen: listen, pattern: pattern}, nil
}

// understand turns one line into a reading and the channel it came on.
func (t *talker) understand(line string, at time.Time) (channel string, r Reading, err error) {
	match := t.pattern.FindStringSubmatch(strings.TrimSpace(line))
	if match == nil {
		return "", Reading{}, fmt.Errorf("the line %q is not of the form %q", line, t.listen.Pattern)
	}
	group := func(name string) string {
		if i := t.pattern.SubexpIndex(name); i >= 0 {
			return match[i]
		}
		return ""
	}
	measure := t.listen.Measure
	if word := group("measure"); word != "" {
		known, ok := t.listen.Words[word]
		if !ok {
			return "", Reading{}, fmt.Errorf("the line %q: %q is no measure of this command set", line, word)
		}
		measure = known
	}
	power := 0
	if unit := group("unit"); unit != "" && len(t.listen.Prefixes) > 0 {
		known, ok := t.listen.Prefixes[unit]
		if !ok {
			return "", Reading{}, fmt.Errorf("the line %q: %q is no unit of this command set", line, unit)
		}
		power = known
	}
	number, err := scpi.ParseNumber(group("value"))
	if err != nil {
		return "", Reading{}, fmt.Errorf("the line %q: %w", line, err)
	}
	if number.Class != scpi.Finite {
		return "", Reading{}, fmt.Errorf("%w: %q", errOverflow, line)
	}
	digits := number.Digits.Scaled(power)
	return group("channel"), Reading{Measure: measure, Value: digits.Float64(), Digits: digits, At: at}, nil
}

// listenTo takes lines until the line fails or the context ends. The first line
// is thrown away: it may be the tail of a longer one.
func (k *Keeper) listenTo(ctx context.Context, portName string, line scpi.Line) error {
	t, err := newTalker(k.link.Commands.Listen)
	if err != nil {
		return err
	}
	talk := scpi.NewConversation(line, scpi.Framing{SendEnding: k.link.Commands.Line.SendEnding})
	patience := or(t.listen.SilentAfter, defaultAskTimeout)
	if err := k.firstLineEnd(ctx, talk, patience); err != nil {
		return k.failed("listen", portName, err)
	}
	k.opened(scpi.Identity{}, portName)
	for {
		lineCtx, cancel := context.WithTimeout(ctx, patience)
		answer, err := talk.NextLine(lineCtx)
		cancel()
		switch {
		case ctx.Err() != nil:
			return ctx.Err()
		case err != nil && kindOf(err) == Lost:
			return k.failed("listen", portName, err)
		case err != nil:
			k.trouble(kindOf(err), err)
			continue
		}
		channel, reading, err := t.understand(answer.Text, answer.At)
		if err != nil {
			k.trouble(kindOf(err), err)
			continue
		}
		k.took(channel, reading)
	}
}

// firstLineEnd throws away the tail of a line that was under way.
func (k *Keeper) firstLineEnd(ctx context.Context, talk *scpi.Conversation, patience time.Duration) error {
	ctx, cancel := context.WithTimeout(ctx, patience)
	defer cancel()
	_, err := talk.Resync(ctx, "", nil, 0)
	return err
}
