package device

import (
	"fmt"
	"strings"

	"soakline/device/scpi"
)

// figure takes the number out of an answer as the question's shape says: one of
// its comma-separated fields, less a unit suffix, scaled by a power of ten.
func figure(answer string, ask Ask) (scpi.Decimal, error) {
	field := strings.TrimSpace(answer)
	if ask.Field > 0 || strings.Contains(field, ",") {
		fields := strings.Split(field, ",")
		if ask.Field >= len(fields) {
			return scpi.Decimal{}, fmt.Errorf("the answer %q has %d fields, no number %d", answer, len(fields), ask.Field)
		}
		field = strings.TrimSpace(fields[ask.Field])
	}
	if ask.Suffix != "" {
		rest, ok := strings.CutSuffix(field, ask.Suffix)
		if !ok {
			return scpi.Decimal{}, fmt.Errorf("the answer %q does not end in %q", answer, ask.Suffix)
		}
		field = strings.TrimSpace(rest)
	}
	number, err := scpi.ParseNumber(field)
	if err != nil {
		return scpi.Decimal{}, fmt.Errorf("the answer %q: %w", answer, err)
	}
	if number.Class != scpi.Finite {
		return scpi.Decimal{}, fmt.Errorf("%w: %q", errOverflow, answer)
	}
	return number.Digits.Scaled(ask.ScalePower), nil
}

// AskFor returns the question for a measure.
func (c *CommandSet) AskFor(m Measure) (Ask, bool) {
	for _, ask := range c.Asks {
		if ask.Measure == m {
			return ask, true
		}
	}
	return Ask{}, false
}
