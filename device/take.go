package device

import (
	"context"
	"fmt"
	"math"
	"strings"
	"time"

	"soakline/device/scpi"
)

// maxRecordBytes bounds one scope record on the line: 16 million 16-bit samples.
const maxRecordBytes = 32 << 20

// Capture takes one scope record, of one channel or of two at once.
func (s *Session) Capture(ctx context.Context, shot Shot) (Capture, error) {
	how := s.link.Commands.CaptureFor(shot.Signal)
	if how == nil {
		return Capture{}, s.failed("capture", "", fmt.Errorf("%w %q", errUnsuitable, s.link.Commands.Name))
	}
	if shot.Beside != "" && len(how.Beside) == 0 {
		return Capture{}, s.failed("capture", "", fmt.Errorf("%w %q: it does not say how a second channel's record is fetched (beside)", errUnsuitable, s.link.Commands.Name))
	}
	doneAt, err := s.arm(ctx, how, shot.Channel)
	if err != nil {
		return Capture{}, err
	}
	record, err := s.fetch(ctx, how, shot.Channel)
	record.DoneAt = doneAt
	if err != nil || shot.Beside == "" {
		return record, err
	}
	for _, message := range how.Beside {
		if err := s.tell(ctx, "capture", forChannel(message, shot.Beside)); err != nil {
			return Capture{}, err
		}
	}
	beside, err := s.fetch(ctx, how, shot.Beside)
	if err != nil {
		return Capture{}, err
	}
	beside.DoneAt = doneAt
	record.Beside = &beside
	return record, nil
}

// fetch gets the record of a channel that the scope has stored.
func (s *Session) fetch(ctx context.Context, how *CaptureAsk, channel string) (Capture, error) {
	scale, err := s.preamble(ctx, how, channel)
	if err != nil {
		return Capture{}, err
	}
	codes, at, err := s.samples(ctx, how, channel)
	if err != nil {
		return Capture{}, err
	}
	record := scale.capture(codes)
	record.At = at
	record.LowVolts, record.HighVolts = scale.ends(how)
	if record.Coupling, err = s.coupling(ctx, how, channel); err != nil {
		return Capture{}, err
	}
	return record, nil
}

// arm makes the scope ready, waits until it has stored a record, and returns when it
// said so.
func (s *Session) arm(ctx context.Context, how *CaptureAsk, channel string) (time.Time, error) {
	if err := s.selectChannel(ctx, channel); err != nil {
		return time.Time{}, err
	}
	for _, message := range how.Arm {
		if err := s.tell(ctx, "arm", forChannel(message, channel)); err != nil {
			return time.Time{}, err
		}
	}
	return s.untilDone(ctx, how, channel)
}

// untilDone asks until the scope has triggered and stored a record. The answer
// itself may be what is waited for ("*OPC?").
func (s *Session) untilDone(ctx context.Context, how *CaptureAsk, channel string) (time.Time, error) {
	if how.Done == "" {
		return time.Time{}, nil
	}
	query := forChannel(how.Done, channel)
	patience := or(how.DoneWithin, defaultCaptureTimeout)
	const pause = 20 * time.Millisecond
	for began := time.Now(); ; {
		answer, err := s.ask(ctx, "wait for the trigger", query, max(patience-time.Since(began), pause))
		if err != nil {
			return time.Time{}, err
		}
		if strings.TrimSpace(answer.Text) == how.DoneIs {
			return answer.At, nil
		}
		if time.Since(began) > patience {
			return time.Time{}, s.failed("wait for the trigger", query, fmt.Errorf("%w: still %q after %s", errNoTrigger, answer.Text, patience))
		}
		if err := wait(ctx, pause); err != nil {
			return time.Time{}, s.failed("wait for the trigger", query, err)
		}
	}
}

// scaling turns codes into volts and sample numbers into seconds.
type scaling struct {
	xIncrement, yIncrement, yOrigin, yReference, probe float64
	// scaled tells that the codes are codes, not volts already.
	scaled bool
}

// preamble asks for the scaling of a record.
func (s *Session) preamble(ctx context.Context, how *CaptureAsk, channel string) (scaling, error) {
	scale := scaling{yIncrement: 1, probe: 1}
	targets := map[string]*float64{"x-increment": &scale.xIncrement, "y-increment": &scale.yIncrement,
		"y-origin": &scale.yOrigin, "y-reference": &scale.yReference, "probe": &scale.probe}
	for _, part := range how.Preamble {
		target, ok := targets[part.Gives]
		if !ok {
			return scale, s.failed("capture", part.Send, fmt.Errorf("%w %q: %q is no part of a preamble", errUnsuitable, s.link.Commands.Name, part.Gives))
		}
		var err error
		if *target, err = s.number(ctx, forChannel(part.Send, channel), part.Field); err != nil {
			return scale, err
		}
		scale.scaled = scale.scaled || part.Gives == "y-increment"
	}
	if !(scale.xIncrement > 0) {
		return scale, s.failed("capture", how.Data, fmt.Errorf("the sample interval is %g s", scale.xIncrement))
	}
	if scale.yIncrement == 0 || scale.probe == 0 {
		return scale, s.failed("capture", how.Data, fmt.Errorf("one code is worth 0 V"))
	}
	return scale, nil
}

// number asks a question that one finite number answers.
func (s *Session) number(ctx context.Context, query string, field int) (float64, error) {
	answer, err := s.ask(ctx, "ask", query, defaultAskTimeout)
	if err != nil {
		return 0, err
	}
	reading, err := Ask{Field: field}.reading(answer)
	if err != nil {
		return 0, s.failed("ask", query, err)
	}
	return reading.Value, nil
}

// samples asks for the record itself.
func (s *Session) samples(ctx context.Context, how *CaptureAsk, channel string) ([]float64, time.Time, error) {
	ctx, cancel := context.WithTimeout(ctx, or(how.Timeout, defaultCaptureTimeout))
	defer cancel()
	query := forChannel(how.Data, channel)
	data, at, err := s.record(ctx, query, scpi.Encoding(how.Encoding))
	if err != nil {
		return nil, at, s.failed("capture", query, err)
	}
	codes, err := scpi.DecodeSamples(data, scpi.Encoding(how.Encoding), how.LowByteFirst)
	if err != nil {
		return nil, at, s.failed("capture", query, err)
	}
	if len(codes) == 0 {
		return nil, at, s.failed("capture", query, fmt.Errorf("the record is empty"))
	}
	for i, code := range codes {
		if scpi.ClassOf(code) != scpi.Finite {
			return nil, at, s.failed("capture", query, fmt.Errorf("%w: sample %d of %d is %g", errOverflow, i, len(codes), code))
		}
	}
	return codes, at, nil
}

// record reads a record's bytes: a block, or text.
func (s *Session) record(ctx context.Context, query string, encoding scpi.Encoding) ([]byte, time.Time, error) {
	if encoding == scpi.ASCII {
		answer, err := s.talk.AskLong(ctx, query, maxRecordBytes)
		if err == nil && len(answer.Stale) > 0 {
			err = fmt.Errorf("lines that nobody asked for came before the record: %q", answer.Stale)
		}
		return []byte(answer.Text), answer.At, err
	}
	return s.talk.AskBlock(ctx, query, maxRecordBytes)
}

// coupling tells how the channel is coupled, "dc" or "ac"; empty where the
// command set does not know, or the scope says something else. As it is the last
// question of a capture, its answer also tells of lines that came before the block.
func (s *Session) coupling(ctx context.Context, how *CaptureAsk, channel string) (string, error) {
	if how.CouplingAsk == "" {
		return how.Coupling, nil
	}
	answer, err := s.ask(ctx, "ask", forChannel(how.CouplingAsk, channel), defaultAskTimeout)
	if err != nil {
		return "", err
	}
	switch said := strings.ToLower(strings.TrimSpace(answer.Text)); said {
	case "dc", "ac":
		return said, nil
	default:
		return "", nil
	}
}

// capture scales codes in place.
func (c scaling) capture(codes []float64) Capture {
	for i, code := range codes {
		codes[i] = c.volts(code)
	}
	record := Capture{Volts: codes, SampleIntervalSeconds: c.xIncrement}
	if c.scaled {
		record.StepVolts = math.Abs(c.yIncrement * c.probe)
	}
	return record
}

func (c scaling) volts(code float64) float64 {
	return ((code-c.yReference)*c.yIncrement + c.yOrigin) * c.probe
}

// ends are the voltages at which the range clips; both 0 where unknown.
func (c scaling) ends(how *CaptureAsk) (low, high float64) {
	if how.LowCode == 0 && how.HighCode == 0 {
		return 0, 0
	}
	low, high = c.volts(float64(how.LowCode)), c.volts(float64(how.HighCode))
	return min(low, high), max(low, high)
}
