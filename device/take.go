package device

import (
	"context"
	"fmt"
	"strings"
	"time"

	"soakline/device/scpi"
)

// maxRecordBytes bounds one scope record on the line: 16 million 16-bit samples.
const maxRecordBytes = 32 << 20

// Capture takes one scope record of one channel.
func (s *Session) Capture(ctx context.Context, channel string) (Capture, error) {
	how := s.link.Commands.Capture
	if how == nil {
		return Capture{}, s.failed("capture", "", fmt.Errorf("%w %q", errUnsuitable, s.link.Commands.Name))
	}
	for _, message := range how.Arm {
		if err := s.talk.Send(ctx, forChannel(message, channel)); err != nil {
			return Capture{}, s.failed("capture", message, err)
		}
	}
	if err := s.untilDone(ctx, how, channel); err != nil {
		return Capture{}, err
	}
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

// untilDone asks until the scope has triggered and stored a record.
func (s *Session) untilDone(ctx context.Context, how *CaptureAsk, channel string) error {
	if how.Done == "" {
		return nil
	}
	query := forChannel(how.Done, channel)
	ctx, cancel := context.WithTimeout(ctx, or(how.DoneWithin, defaultCaptureTimeout))
	defer cancel()
	const pause = 20 * time.Millisecond
	for {
		answer, err := s.talk.Ask(ctx, query)
		if err != nil {
			return s.failed("wait for the trigger", query, err)
		}
		if strings.TrimSpace(answer.Text) == how.DoneIs {
			return nil
		}
		if err := wait(ctx, pause); err != nil {
			return s.failed("wait for the trigger", query, err)
		}
	}
}

// scaling turns codes into volts and sample numbers into seconds.
type scaling struct {
	xIncrement, yIncrement, yOrigin, yReference float64
}

// preamble asks for the scaling of a record.
func (s *Session) preamble(ctx context.Context, how *CaptureAsk, channel string) (scaling, error) {
	scale := scaling{yIncrement: 1}
	targets := map[string]*float64{"x-increment": &scale.xIncrement, "y-increment": &scale.yIncrement,
		"y-origin": &scale.yOrigin, "y-reference": &scale.yReference}
	for _, part := range how.Preamble {
		value, err := s.number(ctx, forChannel(part.Send, channel), part.Field)
		if err != nil {
			return scale, err
		}
		if target := targets[part.Gives]; target != nil {
			*target = value
		}
	}
	if !(scale.xIncrement > 0) {
		return scale, s.failed("capture", how.Data, fmt.Errorf("the sample interval is %g s", scale.xIncrement))
	}
	return scale, nil
}

// number asks a question that one finite number answers.
func (s *Session) number(ctx context.Context, query string, field int) (float64, error) {
	ctx, cancel := context.WithTimeout(ctx, defaultAskTimeout)
	defer cancel()
	answer, err := s.talk.Ask(ctx, query)
	if err != nil {
		return 0, s.failed("ask", query, err)
	}
	digits, err := figure(answer.Text, Ask{Field: field})
	if err != nil {
		return 0, s.failed("ask", query, err)
	}
	return digits.Float64(), nil
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
	return codes, at, nil
}

// record reads a record's bytes: a block, or text.
func (s *Session) record(ctx context.Context, query string, encoding scpi.Encoding) ([]byte, time.Time, error) {
	if encoding == scpi.ASCII {
		answer, err := s.talk.AskLong(ctx, query, maxRecordBytes)
		return []byte(answer.Text), answer.At, err
	}
	return s.talk.AskBlock(ctx, query, maxRecordBytes)
}

// coupling tells how the channel is coupled, "dc" or "ac"; empty where the
// command set does not know.
func (s *Session) coupling(ctx context.Context, how *CaptureAsk, channel string) (string, error) {
	if how.CouplingAsk == "" {
		return how.Coupling, nil
	}
	query := forChannel(how.CouplingAsk, channel)
	ctx, cancel := context.WithTimeout(ctx, defaultAskTimeout)
	defer cancel()
	answer, err := s.talk.Ask(ctx, query)
	if err != nil {
		return "", s.failed("ask", query, err)
	}
	return strings.ToLower(strings.TrimSpace(answer.Text)), nil
}

// capture scales codes in place.
func (c scaling) capture(codes []float64) Capture {
	for i, code := range codes {
		codes[i] = c.volts(code)
	}
	return Capture{Volts: codes, SampleIntervalSeconds: c.xIncrement, StepVolts: c.yIncrement}
}

func (c scaling) volts(code float64) float64 {
	return (code-c.yReference)*c.yIncrement + c.yOrigin
}

// ends are the voltages at which the range clips; both 0 where unknown.
func (c scaling) ends(how *CaptureAsk) (low, high float64) {
	if how.LowCode == 0 && how.HighCode == 0 {
		return 0, 0
	}
	return c.volts(float64(how.LowCode)), c.volts(float64(how.HighCode))
}
