package device

import (
	"fmt"
	"regexp"
	"strings"

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
		return nil, fmt.Errorf("%w: pattern of a talking instrument: %w", errUnsuitable, err)
	}
	return &talker{listen: listen, pattern: pattern}, nil
}

// understand turns one line into a reading and the channel it came on.
func (t *talker) understand(line scpi.Answer) (channel string, r Reading, err error) {
	match := t.pattern.FindStringSubmatch(strings.TrimSpace(line.Text))
	if match == nil || saysInfinity(line.Text) {
		return "", Reading{}, t.unmatched(line.Text)
	}
	measure, err := t.measure(t.group(match, "measure"))
	if err != nil {
		return "", Reading{}, fmt.Errorf("the line %q: %w", line.Text, err)
	}
	power, err := t.power(t.group(match, "unit"))
	if err != nil {
		return "", Reading{}, fmt.Errorf("the line %q: %w", line.Text, err)
	}
	channel = t.group(match, "channel")
	digits, err := finite(t.group(match, "value"), line.Text)
	if err != nil {
		return channel, Reading{Measure: measure}, err
	}
	r, err = newReading(measure, digits.Scaled(power), line)
	return channel, r, err
}

// saysInfinity tells whether a line holds 9.9E37 and the like; a pattern that knows
// no exponent finds a 37 in it.
func saysInfinity(line string) bool {
	for field := range strings.FieldsSeq(line) {
		if number, err := scpi.ParseNumber(field); err == nil && number.Class != scpi.Finite {
			return true
		}
	}
	return false
}

// unmatched tells a line in which the instrument says that it has no figure from
// one that is no line of its.
func (t *talker) unmatched(line string) error {
	for field := range strings.FieldsSeq(line) {
		if noFigure(field) {
			return fmt.Errorf("%w: %q", errOverflow, line)
		}
	}
	return fmt.Errorf("the line %q is not of the form %q", line, t.listen.Pattern)
}

// group is what a named group caught; empty where there is none.
func (t *talker) group(match []string, name string) string {
	if i := t.pattern.SubexpIndex(name); i >= 0 {
		return match[i]
	}
	return ""
}

// measure is what a line means that says word.
func (t *talker) measure(word string) (Measure, error) {
	if word == "" || len(t.listen.Words) == 0 && t.listen.Measure != "" {
		return t.listen.Measure, nil
	}
	if measure, ok := t.listen.Words[word]; ok {
		return measure, nil
	}
	return "", fmt.Errorf("%q is no measure of this command set", word)
}

// power is the power of ten of a unit.
func (t *talker) power(unit string) (int, error) {
	if len(t.listen.Prefixes) == 0 || unit == "" {
		return 0, nil
	}
	if power, ok := t.listen.Prefixes[unit]; ok {
		return power, nil
	}
	return 0, fmt.Errorf("%q is no unit of this command set", unit)
}

// Understands tells whether every line is a reading, or says that there is none.
func (l *Listen) Understands(lines []string) bool {
	t, err := newTalker(l)
	if err != nil {
		return false
	}
	for _, line := range lines {
		if _, _, err := t.understand(scpi.Answer{Text: line}); err != nil && kindOf(err) != Overflow {
			return false
		}
	}
	return len(lines) > 0
}
