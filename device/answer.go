package device

import (
	"fmt"
	"strings"

	"soakline/device/scpi"
)

// figure takes the number out of an answer as the question's shape says: one of
// its fields (S-21), less a unit suffix, scaled by a power of ten.
func figure(answer string, ask Ask) (scpi.Decimal, error) {
	field, err := scpi.Field(answer, ask.Field)
	if err != nil {
		return scpi.Decimal{}, fmt.Errorf("the answer %q: %w", answer, err)
	}
	if ask.Suffix != "" {
		rest, ok := strings.CutSuffix(field, ask.Suffix)
		if !ok && !noFigure(field) {
			return scpi.Decimal{}, fmt.Errorf("the answer %q does not end in %q", answer, ask.Suffix)
		}
		field = strings.TrimSpace(rest)
	}
	return finite(field, answer)
}

// finite reads a number that must be one; answer is what it stood in.
func finite(text, answer string) (scpi.Decimal, error) {
	number, err := scpi.ParseNumber(text)
	if err != nil {
		return scpi.Decimal{}, fmt.Errorf("the answer %q: %w", answer, err)
	}
	if number.Class != scpi.Finite {
		return scpi.Decimal{}, fmt.Errorf("%w: %q", errOverflow, answer)
	}
	return number.Digits, nil
}

// noFigure tells whether a text stands for "over range" or "not a number", which
// instruments send without their unit.
func noFigure(text string) bool {
	_, err := finite(text, text)
	return err != nil && kindOf(err) == Overflow
}

// reading makes a Reading of an answer's figure. A figure that no float64 holds is
// an overflow too.
func (a Ask) reading(answer scpi.Answer) (Reading, error) {
	digits, err := figure(answer.Text, a)
	if err != nil {
		return Reading{}, err
	}
	return newReading(a.Measure, digits.Scaled(a.ScalePower), answer)
}

func newReading(m Measure, digits scpi.Decimal, answer scpi.Answer) (Reading, error) {
	value := digits.Float64()
	if scpi.ClassOf(value) != scpi.Finite {
		return Reading{}, fmt.Errorf("%w: %q", errOverflow, answer.Text)
	}
	return Reading{Measure: m, Value: value, Digits: digits, At: answer.At}, nil
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
