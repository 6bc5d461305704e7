package logger

import (
	"fmt"
	"math"
	"strings"

	"soakline/checks"
	"soakline/checks/audio"
	"soakline/logger/book"
)

// Comparison sets two rounds of a unit side by side.
type Comparison struct {
	Unit          checks.UnitID
	Before, After book.Round
	Lines         []ComparisonLine
	// Audio are the changes at audio outputs in dB, see CompareAudio.
	Audio []audio.Change
}

// ComparisonLine is one figure in both rounds.
type ComparisonLine struct {
	Check         checks.CheckKey
	Before, After RoundFigure
	// Change is After less Before with one standard uncertainty; NaN where one of
	// them is not known.
	Change, ChangeU float64
	// Told tells whether there is a change: it is larger than its expanded
	// uncertainty. Without an uncertainty nobody can tell.
	Told bool
	// OneInstrument tells whether both were read with the same instrument.
	OneInstrument bool
}

// Compare sets two rounds side by side, both by the same sheet, so that "now
// within" means the figure and not the limit. It is a pure function.
//
// The two figures are taken as independent, so that u of the change is the root
// sum of squares. Two readings of one instrument on one range share most of its
// error, which cancels in the change: leaving that out makes the uncertainty too
// large, never too small (JCGM 100:2008, 5.2.2 with a correlation of 0 in place of
// a positive one). Two instruments share nothing; but what a scope record's figure
// carries is noise and codes only, not the scope's own accuracy, which with two
// scopes does not cancel: OneInstrument is false then, and it must be said.
func Compare(sheet checks.Sheet, before, after book.Round) Comparison {
	c := Comparison{Unit: after.Unit, Before: before, After: after}
	was := map[checks.CheckKey]RoundFigure{}
	earlier, now := RoundFigures(sheet, before.Readings), RoundFigures(sheet, after.Readings)
	for _, f := range earlier {
		was[f.Check] = f
	}
	seen := map[checks.CheckKey]bool{}
	for _, f := range now {
		seen[f.Check] = true
		old, known := was[f.Check]
		if !known {
			old = f.unread()
		}
		c.Lines = append(c.Lines, compareFigures(old, f))
	}
	for _, f := range earlier {
		if !seen[f.Check] {
			c.Lines = append(c.Lines, compareFigures(f, f.unread()))
		}
	}
	return c
}

// unread is the figure as it is where nothing was measured.
func (f RoundFigure) unread() RoundFigure {
	f.Reading, f.Figure, f.U = nil, math.NaN(), math.NaN()
	if f.Asked {
		f.State = checks.Silent
	}
	return f
}

func compareFigures(before, after RoundFigure) ComparisonLine {
	line := ComparisonLine{Check: after.Check, Before: before, After: after, Change: after.Figure - before.Figure,
		ChangeU: math.Hypot(before.U, after.U)}
	if before.Reading != nil && after.Reading != nil {
		line.OneInstrument = before.Reading.Instrument == after.Reading.Instrument
	}
	line.Told = line.ChangeU > 0 && math.Abs(line.Change) > checks.CoverageFactor*line.ChangeU
	return line
}

// ChangeText prints the change: "+0.146 V ± 0.009", or that none can be told.
func (l ComparisonLine) ChangeText() string {
	unit := l.Check.Measure.Unit()
	switch {
	case math.IsNaN(l.Change):
		return checks.NotKnown
	case !(l.ChangeU > 0):
		return checks.Difference(l.Change, 0, unit) + ", uncertainty not given"
	case !l.Told:
		return fmt.Sprintf("no change that can be told (± %s)", expandedText(checks.Figure(l.Change, l.ChangeU, unit)))
	default:
		return checks.Difference(l.Change, l.ChangeU, unit)
	}
}

// expandedText takes what stands behind ± out of a printed figure and puts its
// prefixed unit behind it.
func expandedText(figure string) string {
	value, expanded, _ := strings.Cut(figure, " ± ")
	if _, unit, ok := strings.Cut(value, " "); ok {
		return expanded + " " + unit
	}
	return expanded
}

// Meaning says in words what the change means for the limit; empty where there is
// nothing to say.
func (l ComparisonLine) Meaning() string {
	switch {
	case l.Before.Reading == nil && l.After.Reading == nil:
		return "measured in neither"
	case l.After.Reading == nil:
		return "no longer measured"
	case l.Before.Reading == nil:
		return "measured now"
	case l.After.State == "":
		return ""
	case l.Before.State != l.After.State && l.Told:
		return "now " + string(l.After.State)
	case l.Before.State != l.After.State:
		return string(l.After.State) // the two stand on either side, but no change can be told
	case l.After.State != checks.Within:
		return "still " + string(l.After.State)
	default:
		return ""
	}
}
