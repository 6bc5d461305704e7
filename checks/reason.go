package checks

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
)

// ReasonKind sorts why a unit does not pass.
type ReasonKind string

// The kinds of reason, the most important first.
const (
	LeftLimit         ReasonKind = "left-limit"
	MoreOutside       ReasonKind = "more-outside"
	InGuardBand       ReasonKind = "in-guard-band"
	MoreBorderline    ReasonKind = "more-borderline"
	CutOff            ReasonKind = "cut-off"
	Refused           ReasonKind = "refused"
	NeverRead         ReasonKind = "never-read"
	LongGap           ReasonKind = "long-gap"
	MoreGaps          ReasonKind = "more-gaps"
	TooLittleEvidence ReasonKind = "too-little-evidence"
	CyclesMissing     ReasonKind = "cycles-missing"
	EndedEarly        ReasonKind = "ended-early"
	NoLength          ReasonKind = "no-length"
	NothingChecked    ReasonKind = "nothing-checked"
)

var reasonOrder = [...]ReasonKind{
	LeftLimit, MoreOutside, InGuardBand, MoreBorderline, CutOff, Refused, NeverRead,
	LongGap, MoreGaps, TooLittleEvidence, CyclesMissing, EndedEarly, NoLength, NothingChecked,
}

func (k ReasonKind) rank() int {
	for i, known := range reasonOrder {
		if k == known {
			return i
		}
	}
	return len(reasonOrder)
}

// outcome is what a reason of this kind leads to.
func (k ReasonKind) outcome() Outcome {
	if k == LeftLimit || k == MoreOutside {
		return Fail
	}
	return Undecided
}

// Reason is why a unit does not pass, as data; Sentence puts it into words. Which
// fields are set follows from Kind.
type Reason struct {
	Kind ReasonKind
	// Check is the zero key where the whole soak is meant.
	Check CheckKey
	// Begin is when the soak began.
	Begin     time.Time
	Excursion Excursion
	Gap       Gap
	// At and State are of CutOff; At is the end for EndedEarly.
	At    time.Time
	State State
	// Share is what there was and Needed what the sheet asks, each 0 to 1.
	Share, Needed float64
	// Length is what there was and Asked what the plan asks or allows.
	Length, Asked time.Duration
	// Count is how many there were and Listed how many of them are listed.
	Count, Listed int
	Text          string
}

func (r Reason) outcome() Outcome { return r.Kind.outcome() }

// Sentence says the reason in words, times as a clock in loc shows them; UTC if
// loc is nil. Times more than a day after the soak's begin carry their date.
func (r Reason) Sentence(loc *time.Location) string {
	if loc == nil {
		loc = time.UTC
	}
	c := clock{loc: loc, begin: r.Begin}
	name := r.Check.String()
	switch r.Kind {
	case LeftLimit, InGuardBand:
		return r.excursion(c)
	case MoreOutside, MoreBorderline:
		return fmt.Sprintf("%s: %d excursions in all, the %d worst are listed", name, r.Count, r.Listed)
	case CutOff:
		return fmt.Sprintf("%s was %s at %s when the readings stopped, so it can't be told if it stayed", name, r.State, c.at(r.At))
	case Refused:
		return fmt.Sprintf("%s can't be decided: %s", name, r.Text)
	case NeverRead:
		return name + " was never read after the settle time"
	case LongGap:
		return r.gap(c)
	case MoreGaps:
		return fmt.Sprintf("%s: %d gaps in all, the %d longest are listed", name, r.Count, r.Listed)
	case TooLittleEvidence:
		return fmt.Sprintf("%s was covered by readings for %s of the soak, the sheet asks %s",
			name, percentBelow(r.Share, r.Needed), percent(r.Needed))
	case CyclesMissing:
		return r.Text
	case EndedEarly:
		return fmt.Sprintf("the soak ended at %s, after %s of %s", c.at(r.At), Duration(r.Length), Duration(r.Asked))
	case NoLength:
		return "the soak has no length"
	case NothingChecked:
		return "the sheet checks nothing"
	default:
		return fmt.Sprintf("%s: %s", name, r.Kind)
	}
}

func (r Reason) excursion(c clock) string {
	e := r.Excursion
	unit := e.Check.Measure.Unit()
	what := "left its limits"
	if r.Kind == InGuardBand {
		what = "stood in its guard band"
	}
	when := c.between(e.From, e.To)
	if e.To.IsZero() {
		when = c.at(e.From) + " and was still there at the end"
	}
	sure := "uncertainty not given"
	if e.WorstU > 0 {
		sure = "uncertainty " + uncertaintyText(e.Worst, e.WorstU, unit)
	}
	return fmt.Sprintf("%s %s %s (%s, %s limit %s, %s)", e.Check, what, when,
		plainFigure(e.Worst, e.WorstU, unit), e.Edge, Figure(e.Limit, 0, unit), sure)
}

func (r Reason) gap(c clock) string {
	why := "had no fresh reading"
	if r.Gap.Cause != causeSilent {
		why = "has a hole, " + r.Gap.Cause + ","
	}
	return fmt.Sprintf("%s %s %s (%s, the sheet allows %s)", r.Check, why,
		c.between(r.Gap.From, r.Gap.To), Duration(r.Gap.Length()), Duration(r.Asked))
}

// String writes the key as sentences do: "rail-5v dc-voltage".
func (k CheckKey) String() string { return string(k.TestPoint) + " " + string(k.Measure) }

// clock writes times of a soak.
type clock struct {
	loc   *time.Location
	begin time.Time
}

// at writes a time to the second.
func (c clock) at(t time.Time) string { return t.In(c.loc).Format(c.date(t) + "15:04:05") }

// between writes an interval, with milliseconds if it is short.
func (c clock) between(from, to time.Time) string {
	layout := "15:04:05"
	if to.Sub(from) < 10*time.Second {
		layout += ".000"
	}
	return from.In(c.loc).Format(c.date(from)+layout) + " to " + to.In(c.loc).Format(c.date(to)+layout)
}

// date is the layout of the date where the clock alone would not tell the day.
func (c clock) date(t time.Time) string {
	if since := t.Sub(c.begin); since >= 0 && since < 24*time.Hour {
		return ""
	}
	return "2006-01-02 "
}

// Duration writes a length of time for people: "4 h 12 min", "3 min 20 s", "0.5 s".
func Duration(d time.Duration) string {
	switch {
	case d < 0:
		return "-" + Duration(-max(d, -math.MaxInt64)) // the longest has no opposite
	case d < time.Minute:
		return strconv.FormatFloat(d.Truncate(time.Millisecond).Seconds(), 'f', -1, 64) + " s"
	case d < time.Hour:
		return strings.TrimSuffix(fmt.Sprintf("%d min %d s", d/time.Minute, d%time.Minute/time.Second), " 0 s")
	default:
		return strings.TrimSuffix(fmt.Sprintf("%d h %d min", d/time.Hour, d%time.Hour/time.Minute), " 0 min")
	}
}

// percent writes a share.
func percent(share float64) string {
	return strconv.FormatFloat(math.Round(share*1e8)/1e6, 'f', -1, 64) + " %"
}

// percentBelow writes a share with the digits it takes to show that it is below
// another, and rounded down, so that 98.96 never reads as 99.
func percentBelow(share, other float64) string {
	for scale := 10.0; scale <= 1e6; scale *= 10 {
		if down := math.Floor(share*100*scale) / scale; down < other*100 {
			return strconv.FormatFloat(down, 'f', -1, 64) + " %"
		}
	}
	return "less than " + percent(other)
}
