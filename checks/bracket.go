package checks

import (
	"math"
	"strings"
)

// The bracket's cells: inside the limits, and on either side of them for what has
// left.
const (
	bracketInside = 15
	bracketMargin = 4
	// BracketWidth is how many characters every bracket takes.
	BracketWidth = bracketMargin + 1 + bracketInside + 1 + bracketMargin
)

// Bracket draws how a check stands: the bracket is its limits, the tick | the
// reading, · and ─ where it has been, ░ the guard band. A tick that has left
// stands outside of the bracket. While settling the bracket is not closed yet;
// silent, there is no tick and it is dotted. A one-sided limit has one end.
type Bracket struct {
	Limit Limit
	// U is one standard uncertainty of Reading.
	U float64
	// Reading is the latest figure, Low and High where it has been; NaN where
	// not known.
	Reading, Low, High float64
	State              State
}

// Text draws the bracket in BracketWidth characters; ASCII turns it into plain
// ones.
func (b Bracket) Text() string {
	cells := []rune(strings.Repeat(" ", BracketWidth))
	b.ends(cells)
	switch b.State {
	case Settling:
	case Silent:
		for i := bracketMargin + 3; i < BracketWidth-bracketMargin-2; i += 2 {
			cells[i] = '.'
		}
	default:
		b.guard(cells)
		b.trail(cells)
		if cell, ok := b.cell(b.Reading); ok {
			cells[cell] = '|'
		}
	}
	return string(cells)
}

// ends draws the two ends, open ones while settling.
func (b Bracket) ends(cells []rune) {
	low, high := '[', ']'
	if b.State == Settling {
		low, high = ':', ':'
	}
	if !math.IsInf(b.Limit.Low, 0) {
		cells[bracketMargin] = low
	}
	if !math.IsInf(b.Limit.High, 0) {
		cells[BracketWidth-1-bracketMargin] = high
	}
}

// guard shades the cells whose middle lies in the guard band.
func (b Bracket) guard(cells []rune) {
	low, high, err := b.Limit.AcceptanceInterval(b.U)
	if err != nil {
		low, high = math.Inf(1), math.Inf(-1)
	}
	from, to := b.span()
	for i := range bracketInside {
		middle := from + (to-from)*(float64(i)+0.5)/bracketInside
		if middle < low || middle > high {
			cells[bracketMargin+1+i] = '░'
		}
	}
}

// trail draws where the figure has been.
func (b Bracket) trail(cells []rune) {
	first, ok := b.cell(b.Low)
	last, okHigh := b.cell(b.High)
	if !ok || !okHigh {
		return
	}
	for i := first; i <= last; i++ {
		switch {
		case i == bracketMargin || i == BracketWidth-1-bracketMargin: // the ends stay
			if cells[i] != ' ' {
				continue
			}
			cells[i] = '─'
		case i == first || i == last:
			cells[i] = '·'
		default:
			cells[i] = '─'
		}
	}
}

// Place returns where along the bracket a figure stands: 0 on the low end, 1 on
// the high end, below and above outside. A one-sided limit is drawn as long again
// on the other side of its nominal figure, else down or up to 0, else as long as
// the figures reach.
func (b Bracket) Place(figure float64) float64 {
	low, high := b.span()
	return (figure - low) / (high - low)
}

// span returns the figures at the bracket's two ends, the open one included.
func (b Bracket) span() (low, high float64) {
	l := b.Limit
	switch lowOpen, highOpen := math.IsInf(l.Low, 0), math.IsInf(l.High, 0); {
	case lowOpen && highOpen:
		return -1, 1
	case lowOpen:
		return l.High - b.reach(l.High), l.High
	case highOpen:
		return l.Low, l.Low + b.reach(l.Low)
	default:
		return l.Low, l.High
	}
}

// reach is how much a one-sided bracket shows behind its one end.
func (b Bracket) reach(end float64) float64 {
	if d := 2 * math.Abs(end-b.Limit.Nominal); d > 0 {
		return d
	}
	if end != 0 {
		return math.Abs(end)
	}
	if d := math.Abs(b.Reading - end); d > 0 && !math.IsInf(d, 0) {
		return 2 * d
	}
	return 1
}

// cell returns the cell that a figure is drawn in; never an end of the bracket,
// because a figure on the limit has not left it. ok is false if it is not known.
func (b Bracket) cell(figure float64) (cell int, ok bool) {
	place := b.Place(figure)
	if math.IsNaN(place) {
		return 0, false
	}
	low, high := bracketMargin, BracketWidth-1-bracketMargin
	switch step := math.Max(-1e3, math.Min(1e3, place*bracketInside)); {
	case figure < b.Limit.Low || math.IsInf(b.Limit.Low, 0) && place < 0:
		return min(low-1, max(0, low-1+int(math.Ceil(step)))), true
	case figure > b.Limit.High || math.IsInf(b.Limit.High, 0) && place > 1:
		return max(high+1, min(BracketWidth-1, high+1+int(math.Floor(step-bracketInside)))), true
	default:
		return low + 1 + min(bracketInside-1, max(0, int(step))), true
	}
}
