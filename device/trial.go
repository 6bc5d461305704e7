package device

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"soakline/device/scpi"
)

// commonLines are the settings that instruments leave their makers with, the
// commoner first (S-73, S-75: a USB port of the instrument's own takes any).
var commonLines = []LineSettings{
	eightBits(9600), eightBits(115200), eightBits(19200), eightBits(57600), eightBits(38400), eightBits(4800), eightBits(2400), eightBits(1200),
	{Baud: 9600, DataBits: 7, Parity: "even", StopBits: "1", Flow: "none"},
}

func eightBits(baud int) LineSettings {
	return LineSettings{Baud: baud, DataBits: 8, Parity: "none", StopBits: "1", Flow: "none"}
}

// commonEndings are tried on each line in this order.
var commonEndings = []string{"lf", "crlf", "cr"}

// String gives the settings as a person says them: "115200 8N1, ending LF".
func (l LineSettings) String() string {
	text := l.port().String()
	if l.SendEnding != "" {
		text += ", ending " + endingName(l.SendEnding)
	}
	return text
}

func endingName(ending string) string {
	return map[string]string{"lf": "LF", "cr": "CR", "crlf": "CR LF"}[ending]
}

// trial is what one setting of an open port brought to light.
type trial struct {
	identity scpi.Identity
	// talk holds lines that came by themselves, or is empty.
	talk []string
	// noise tells that something came that is no text.
	noise bool
}

// answerTime is how long *IDN? and its answer of 72 characters (S-02) take on the
// line, and a little more.
func (l LineSettings) answerTime() time.Duration {
	const characters, bitsEach, thinking = 80, 10, 300 * time.Millisecond
	return thinking + characters*bitsEach*time.Second/time.Duration(max(l.Baud, 1))
}

// try asks who is there.
func try(ctx context.Context, line Port, l LineSettings) (found trial, err error) {
	// The quiet times, of which the first may last ten, come before the question.
	ctx, cancel := context.WithTimeout(ctx, l.answerTime()+11*quietTime)
	defer cancel()
	talk := scpi.NewConversation(line, scpi.Framing{SendEnding: l.SendEnding})
	stale, err := talk.Resync(ctx, identifyQuery, func(text string) bool {
		var err error
		found.identity, err = scpi.ParseIdentity(text)
		return err == nil
	}, quietTime)
	found.noise = errors.Is(err, scpi.ErrGarbage)
	for _, text := range stale {
		if isTalk(text) {
			found.talk = append(found.talk, text)
		} else if strings.Contains(text, `\x`) {
			found.noise = true
		}
	}
	return found, err
}

const identifyQuery = "*IDN?"

// isTalk tells whether a line, escaped, can be a reading that somebody sends.
func isTalk(text string) bool {
	return strings.ContainsAny(text, "0123456789") && !strings.Contains(text, `\x`) && !strings.HasPrefix(text, "garbage") &&
		text != identifyQuery && text != "*CLS"
}

// hearTalk listens for whole lines.
func hearTalk(ctx context.Context, line Port, l LineSettings) (lines []string, err error) {
	const enough, patience = 3, 4 * time.Second
	ctx, cancel := context.WithTimeout(ctx, patience)
	defer cancel()
	talk := scpi.NewConversation(line, scpi.Framing{SendEnding: l.SendEnding})
	if _, err := talk.Resync(ctx, "", nil, 0); err != nil {
		return nil, err
	}
	for len(lines) < enough {
		answer, err := talk.NextLine(ctx)
		if err != nil {
			return lines, err
		}
		lines = append(lines, answer.Text)
	}
	return lines, nil
}

// saidTried lists what was tried: "9600, 115200 8N1; 9600 7E1; each ending in LF, CR LF and CR".
func saidTried(lines []LineSettings) string {
	var frames []string
	speeds := map[string][]string{}
	for _, l := range lines {
		speed, frame, _ := strings.Cut(l.port().String(), " ")
		if !slices.Contains(frames, frame) {
			frames = append(frames, frame)
		}
		speeds[frame] = append(speeds[frame], speed)
	}
	var all []string
	for _, frame := range frames {
		all = append(all, fmt.Sprintf("%s %s", strings.Join(speeds[frame], ", "), frame))
	}
	return strings.Join(all, "; ") + "; each ending in LF, CR LF and CR"
}
