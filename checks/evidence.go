package checks

import (
	"slices"
	"time"
)

// Gap is an interval without a fresh reading.
type Gap struct {
	Check    CheckKey
	From, To time.Time
	// Cause says what is known about it: "silent", "readings lost: queue full".
	Cause string
}

// Length is how long the gap is.
func (g Gap) Length() time.Duration { return g.To.Sub(g.From) }

// causeSilent is the cause of a gap that nobody told a reason for.
const causeSilent = "silent"

// Loss is an interval in which readings arrived but could not be kept.
type Loss struct {
	// TestPoint is where; empty where it can't be told, then every check of the
	// unit loses the interval.
	TestPoint TestPointName
	From, To  time.Time
	// Readings is how many were lost.
	Readings int
	// Cause says why in a few words: "queue full".
	Cause string
}

// evidence counts how much of a check's time its figures cover, from the end of
// the settle time to the end of the soak.
//
// A figure covers the time until the next one if that comes within FreshFor of
// it; if not, nothing of the time between the two is covered, and it is a gap.
// The begin and the end stand for a figure each: up to FreshFor before the first
// figure and after the last is covered, more is a gap. A check without any figure
// is covered nowhere. Where a reference is subtracted, a figure is no longer
// fresh once its reference is not. Lost intervals are taken out of what is
// covered, and if it can't be told whether they were, they are taken out as well.
type evidence struct {
	start   stamp
	fresh   span
	last    stamp // latest figure; start before the first
	figures int
	broken  bool // the latest figure was stale before a new reference came
	covered span

	lossFrom, lossTo stamp // the latest loss
	openLoss         span  // lost after last
	lost             int
	lastGap          gapStamps
	gaps             gapList
}

type gapStamps struct{ from, to stamp }

// figure takes a figure at t, not before last, and tells if a gap came before it.
func (e *evidence) figure(t stamp) (afterGap bool) {
	covered, afterGap := e.reach(t)
	e.covered += covered
	if afterGap {
		e.lastGap = gapStamps{from: e.last, to: t}
		e.gaps.add(gapStamps{from: e.last, to: t}, causeSilent)
	}
	e.openLoss = max(0, e.lossTo-max(t, e.lossFrom))
	e.last, e.broken = t, false
	e.figures++
	return afterGap
}

// reach tells how much of the time from the latest figure to t is covered, if
// what comes at t is a figure or the end.
func (e *evidence) reach(t stamp) (covered span, gap bool) {
	if e.broken || t-e.last > e.fresh {
		return 0, true
	}
	beyond := max(0, e.lossTo-max(t, e.lossFrom)) // of the loss, not of this stretch
	return max(0, t-e.last-max(0, e.openLoss-beyond)), false
}

// until returns what is covered if the watching ends at end, and the gap that is
// then open.
func (e *evidence) until(end stamp) (covered span, open gapStamps, gap bool) {
	if end <= e.start {
		return 0, gapStamps{}, false
	}
	more, gap := e.reach(end)
	if e.figures == 0 {
		more, gap = 0, true
	}
	return max(0, e.covered+more), gapStamps{from: e.last, to: end}, gap
}

// lose takes an interval out.
func (e *evidence) lose(from, to stamp, n int, cause string) {
	e.lost += n
	from = max(from, e.start)
	if to <= from {
		return
	}
	e.gaps.add(gapStamps{from: from, to: to}, cause)
	if e.lossTo == 0 || to <= e.lossFrom || from >= e.lossTo {
		e.take(from, to)
	} else { // only what the latest loss has not taken already
		e.take(from, min(to, e.lossFrom))
		e.take(max(from, e.lossTo), to)
		from, to = min(from, e.lossFrom), max(to, e.lossTo)
	}
	if to > e.lossTo {
		e.lossFrom, e.lossTo = from, to
	}
}

// take deducts an interval: what lies before the latest figure from what is
// covered, unless it lies in the latest gap, and the rest from what will be.
func (e *evidence) take(from, to stamp) {
	if to <= from {
		return
	}
	if from < e.last {
		late := min(to, e.last)
		inGap := max(0, min(late, e.lastGap.to)-max(from, e.lastGap.from))
		e.covered -= late - from - inGap
	}
	if to > e.last {
		e.openLoss += to - max(from, e.last)
	}
}

// keptGap is a gap on the list.
type keptGap struct {
	gapStamps
	cause string
}

// gapList keeps the longest gaps and totals of all.
type gapList struct {
	kept    []keptGap
	count   int
	total   span
	longest span
}

// add counts a gap and keeps it if it is among the longest; of equals the earlier.
func (l *gapList) add(g gapStamps, cause string) {
	length := g.to - g.from
	l.count++
	l.total += length
	l.longest = max(l.longest, length)
	if len(l.kept) < keepAtMost {
		l.kept = append(l.kept, keptGap{g, cause})
		return
	}
	least := 0
	for i, k := range l.kept {
		if k.to-k.from <= l.kept[least].to-l.kept[least].from {
			least = i
		}
	}
	if length > l.kept[least].to-l.kept[least].from {
		l.kept[least] = keptGap{g, cause}
	}
}

// clone returns a list that shares nothing with l.
func (l gapList) clone() gapList {
	l.kept = slices.Clone(l.kept)
	return l
}

// list returns the kept gaps in order of time.
func (l *gapList) list(key CheckKey) []Gap {
	var all []Gap
	for _, k := range l.kept {
		all = append(all, Gap{Check: key, From: k.from.time(), To: k.to.time(), Cause: k.cause})
	}
	slices.SortStableFunc(all, func(a, b Gap) int { return a.From.Compare(b.From) })
	return all
}
