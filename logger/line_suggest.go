package logger

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"soakline/checks"
	"soakline/device"
)

// YAML writes the suggested limit as lines for the check in its sheet; empty if
// there is none. The limit that holds now stands above it as a comment.
func (s Spread) YAML() string {
	if s.Suggested == nil {
		return ""
	}
	unit := s.Check.Measure.Unit()
	var text strings.Builder
	fmt.Fprintf(&text, "# %s of %s: now %s (%s). A proposal; look at it before you paste it.\n", s.Check, s.Console, nowText(s.Limit, unit), s.Sheet)
	text.WriteString("limit:\n")
	digits := decimalsFor(s.SD)
	line := func(key string, value float64) {
		if !math.IsInf(value, 0) {
			fmt.Fprintf(&text, "  %s%s: %s\n", key, unit.KeySuffix, strconv.FormatFloat(value, 'g', significant(value, digits), 64))
		}
	}
	if !math.IsInf(s.Suggested.Low, 0) && !math.IsInf(s.Suggested.High, 0) {
		line("nominal", s.Suggested.Nominal)
	}
	line("low", s.Suggested.Low)
	line("high", s.Suggested.High)
	fmt.Fprintf(&text, "  source: spread of %d good units, holds %s of such units with %s confidence if they are normally distributed\n",
		s.Suggested.Good, shareText(s.Suggested.Coverage), shareText(s.Suggested.Confidence))
	return text.String()
}

func nowText(l checks.Limit, unit device.Unit) string {
	low, high := checks.Figure(l.Low, 0, unit), checks.Figure(l.High, 0, unit)
	switch {
	case math.IsInf(l.Low, 0):
		return "at most " + high
	case math.IsInf(l.High, 0):
		return "at least " + low
	default:
		return low + " to " + high
	}
}

// decimalsFor is the place, as a power of ten, of the second digit of a spread:
// more digits of a limit would say nothing.
func decimalsFor(sd float64) int { return int(math.Floor(math.Log10(sd))) - 1 }

// significant is how many digits of a value reach to a place.
func significant(value float64, place int) int {
	if value == 0 {
		return 1
	}
	return max(1, int(math.Floor(math.Log10(math.Abs(value))))-place+1)
}

func shareText(share float64) string { return strconv.FormatFloat(100*share, 'f', -1, 64) + " %" }
