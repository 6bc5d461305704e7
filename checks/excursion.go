package checks

import (
	"cmp"
	"math"
	"slices"
	"time"

	"soakline/device"
)

// Edge is one end of a limit.
type Edge string

// The two ends.
const (
	LowEdge  Edge = "low"
	HighEdge Edge = "high"
)

// CheckKey names one check of one console: a measure at a test point.
type CheckKey struct {
	TestPoint TestPointName
	Measure   device.Measure
}

// Excursion is an interval in which a check was outside (or borderline). The two
// are kept apart: a borderline one ends where an outside one begins.
type Excursion struct {
	Check CheckKey
	// State is Outside or Borderline: the worst that the interval held.
	State State
	Edge  Edge
	// From is the first reading outside, To the first reading back inside; To is
	// the zero time while it lasts.
	From, To time.Time
	// Worst is the figure farthest out, WorstAt when it was read, Limit the edge
	// it left, and WorstU one standard uncertainty of it; all in the measure's
	// unit.
	Worst   float64
	WorstAt time.Time
	WorstU  float64
	Limit   float64
}

// Beyond is how far the worst figure was beyond the limit, in the measure's unit;
// negative for a borderline one that stayed inside.
func (e Excursion) Beyond() float64 {
	if e.Edge == LowEdge {
		return e.Limit - e.Worst
	}
	return e.Worst - e.Limit
}

// keepAtMost is how many excursions, and how many gaps, of one check are kept: a
// soak of weeks holds as much memory as one of minutes. What is not kept is
// counted.
const keepAtMost = 16

// excursionList keeps the worst excursions and totals of all.
type excursionList struct {
	kept                []Excursion
	outside, borderline int
	outsideFor          span
	borderlineFor       span
}

// add counts e, which lasted for length, and keeps it if it is among the worst.
func (l *excursionList) add(e Excursion, length span) {
	if e.State == Outside {
		l.outside++
		l.outsideFor += length
	} else {
		l.borderline++
		l.borderlineFor += length
	}
	if len(l.kept) < keepAtMost {
		l.kept = append(l.kept, e)
		return
	}
	least := 0
	for i := range l.kept {
		if byWorst(l.kept[i], l.kept[least]) > 0 {
			least = i
		}
	}
	if byWorst(e, l.kept[least]) < 0 {
		l.kept[least] = e
	}
}

// byWorst orders outside before borderline, then the farther out, then the earlier.
func byWorst(a, b Excursion) int {
	if a.State != b.State {
		if a.State == Outside {
			return -1
		}
		return 1
	}
	return cmp.Or(cmp.Compare(b.Beyond(), a.Beyond()), a.From.Compare(b.From))
}

// clone returns a list that shares nothing with l.
func (l excursionList) clone() excursionList {
	l.kept = slices.Clone(l.kept)
	return l
}

// candidate is an excursion that builds up.
type candidate struct {
	from, worstAt stamp
	edge          Edge
	worst, worstU float64
	depth         float64
}

func newCandidate(t stamp) candidate { return candidate{from: t, depth: math.Inf(-1)} }

// take keeps the figure if it is the farthest out so far.
func (c *candidate) take(t stamp, l *Limit, edge Edge, y, u float64) {
	if depth := l.beyond(edge, y); depth > c.depth {
		c.depth, c.worst, c.worstU, c.worstAt, c.edge = depth, y, u, t, edge
	}
}

// excursion turns c into what others see; to is ignored while it lasts.
func (c candidate) excursion(key CheckKey, l *Limit, state State, to stamp, lasts bool) Excursion {
	e := Excursion{
		Check: key, State: state, Edge: c.edge, From: c.from.time(),
		Worst: c.worst, WorstAt: c.worstAt.time(), WorstU: c.worstU, Limit: l.At(c.edge),
	}
	if !lasts {
		e.To = to.time()
	}
	return e
}
