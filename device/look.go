package device

import (
	"context"
	"strings"
	"time"

	"soakline/device/scpi"
)

// Looks is what an instrument seems to be, from what it answers.
type Looks struct {
	Kind InstrumentKind
	// Ask is the question that told, and Answer what came.
	Ask, Answer string
}

// InstrumentKind is a kind of instrument.
type InstrumentKind string

// The kinds that can be told apart by asking.
const (
	Meter   InstrumentKind = "meter"
	Scope   InstrumentKind = "scope"
	Supply  InstrumentKind = "supply"
	Talker  InstrumentKind = "talker"
	Unknown InstrumentKind = "unknown"
)

// looks are the questions that tell the kinds apart, all of SCPI-1999, volume 2:
// the first that is answered decides. None of them sets an output or a level; the
// meter's puts it on its DC voltage range.
var looks = []struct {
	kind InstrumentKind
	ask  string
	says func(answer string) bool
	// within is how long the answer may take, beside its way over the line.
	within time.Duration
}{
	{Supply, "OUTP?", isSwitch, 300 * time.Millisecond},
	{Scope, "MEAS:VOLT:PTP? (@1)", isNumber, time.Second},
	// A meter that integrates over many mains cycles is slow.
	{Meter, "MEAS:VOLT:DC?", isNumber, 3 * time.Second},
}

// look finds out what an instrument is. A question that it does not know is not
// answered and leaves an entry in its error queue, which is read away.
func look(ctx context.Context, s *Session) (Looks, error) {
	for _, l := range looks {
		answer, err := s.ask(ctx, "ask", l.ask, l.within+s.link.Commands.Line.answerTime())
		if err == nil && l.says(answer.Text) {
			return Looks{Kind: l.kind, Ask: l.ask, Answer: strings.TrimSpace(answer.Text)}, nil
		}
		if ctx.Err() != nil {
			return Looks{}, ctx.Err()
		}
		if err != nil && kindOf(err) == Lost {
			return Looks{}, err
		}
		if _, err := s.resync(ctx); err != nil {
			return Looks{}, err
		}
	}
	return Looks{Kind: Unknown}, nil
}

func isNumber(answer string) bool {
	_, err := scpi.ParseNumber(answer)
	return err == nil || kindOf(err) == Overflow
}

func isSwitch(answer string) bool {
	switch strings.ToUpper(strings.TrimSpace(answer)) {
	case "0", "1", "ON", "OFF":
		return true
	}
	return false
}
