package config

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"time"

	"go.yaml.in/yaml/v3"
)

// plainNumber is a decimal number: no thousands, no hexadecimal, no infinity.
var (
	plainNumber  = regexp.MustCompile(`^[-+]?(\d+\.?\d*|\.\d+)([eE][-+]?\d+)?$`)
	numberAtHead = regexp.MustCompile(`^([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)\s*[a-zA-Zµ°%]`)
	decimalComma = regexp.MustCompile(`^[-+]?\d+,\d+$`)
)

// number returns a finite number; otherwise if the key is left out or wrong.
func (s *section) number(key string, n need, otherwise float64) float64 {
	v := s.value(key, n)
	if v == nil {
		return otherwise
	}
	if why := notNumber(v); why != "" {
		s.wrong(key, "%s", why)
		return otherwise
	}
	f, err := strconv.ParseFloat(v.Value, 64)
	if err != nil || math.IsInf(f, 0) {
		s.wrong(key, "%s is too large for a number", shortened(v.Value))
		return otherwise
	}
	return f
}

// notNumber says why a value is not a plain number; "" if it is one.
func notNumber(v *yaml.Node) string {
	given := kindOf(v)
	switch {
	case v.Kind != yaml.ScalarNode:
		return "must be a number, not " + given
	case plainNumber.MatchString(v.Value):
		if v.Style&(yaml.SingleQuotedStyle|yaml.DoubleQuotedStyle) != 0 {
			return "the number stands in quotes: write " + v.Value
		}
		return ""
	case decimalComma.MatchString(v.Value):
		return given + " is not a number: write the decimal point, " + strings.Replace(v.Value, ",", ".", 1)
	case v.ShortTag() == "!!float" && strings.ContainsAny(v.Value, "nN"):
		return v.Value + " is not a finite number"
	}
	if numberAtHead.MatchString(v.Value) && !strings.HasPrefix(strings.ToLower(v.Value), "0x") {
		return given + " is not a number: the unit is part of the key, write the figure alone"
	}
	return given + " is not a number"
}

// integer returns a whole number.
func (s *section) integer(key string, n need, otherwise int) int {
	v := s.value(key, n)
	if v == nil {
		return otherwise
	}
	if why := notNumber(v); why != "" {
		s.wrong(key, "%s", why)
		return otherwise
	}
	i, err := strconv.ParseInt(v.Value, 10, 32)
	if err != nil {
		s.wrong(key, "%s is not a whole number that fits here", shortened(v.Value))
		return otherwise
	}
	return int(i)
}

// truth returns true or false.
func (s *section) truth(key string) bool {
	v := s.value(key, optional)
	if v == nil {
		return false
	}
	if v.Kind != yaml.ScalarNode || v.ShortTag() != "!!bool" {
		s.wrong(key, "must be true or false, not %s", kindOf(v))
		return false
	}
	return strings.EqualFold(v.Value, "true")
}

// duration returns a time span of zero or more.
func (s *section) duration(key string, n need, otherwise time.Duration) time.Duration {
	v := s.value(key, n)
	if v == nil {
		return otherwise
	}
	if v.Kind != yaml.ScalarNode {
		s.wrong(key, "must be a time span such as 500ms, not %s", kindOf(v))
		return otherwise
	}
	d, why := parseDuration(v.Value)
	if why != "" {
		s.wrong(key, "%s", why)
		return otherwise
	}
	return d
}

// parseDuration reads a time span with its unit and says what is wrong with one
// that it cannot read.
func parseDuration(text string) (d time.Duration, why string) {
	given := strconv.Quote(shortened(text))
	if plainNumber.MatchString(text) {
		return 0, given + " has no unit: write for example " + text + "s or " + text + "ms"
	}
	d, err := time.ParseDuration(text)
	switch {
	case err != nil && strings.HasSuffix(text, "d"):
		return 0, given + " is not a time span: write days as hours, 24h for one"
	case err != nil:
		return 0, given + " is not a time span: write for example 500ms, 2s, 10m or 8h"
	case d < 0:
		return 0, given + " is a negative time span"
	}
	return d, ""
}

// day returns a day at midnight UTC; the zero time if the key is left out or wrong.
func (s *section) day(key string) time.Time {
	v := s.value(key, optional)
	if v == nil {
		return time.Time{}
	}
	if v.Kind != yaml.ScalarNode {
		s.wrong(key, "must be a day such as 2026-03-31, not %s", kindOf(v))
		return time.Time{}
	}
	day, err := time.Parse(time.DateOnly, v.Value)
	if err != nil {
		s.wrong(key, "%s is not a day: write year, month and day, as in 2026-03-31", strconv.Quote(shortened(v.Value)))
		return time.Time{}
	}
	return day
}
