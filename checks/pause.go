package checks

import (
	"fmt"
	"math"
	"time"
)

// CyclePlan is how a soak switches the unit off and on again. Nothing is ever
// switched without one.
type CyclePlan struct {
	// TestPoint is the one whose instrument switches: a supply or a relay.
	TestPoint TestPointName
	// Cycles is how often the unit is switched off and on again, after On each time
	// and for Off.
	Cycles  int
	On, Off time.Duration
}

// pauseSlack is how much longer than planned a pause may last and still be the
// planned one: a command and its answer take their time (common practice, no source).
const pauseSlack = 10 * time.Second

// Pause is an interval in which the unit was switched off. To is the zero time while
// it lasts.
type Pause struct {
	From, To time.Time
	Kind     PauseKind
}

// PauseKind is how a pause came about.
type PauseKind string

// The kinds of pause. Only a planned one is a power cycle, and no evidence is asked
// for in it alone.
const (
	PlannedPause PauseKind = ""
	// InterruptedPause began because the program stopped or had been away, so that
	// nobody knew how the output was.
	InterruptedPause PauseKind = "interrupted"
	// NotFollowed is one in which the readings say that the unit stayed on.
	NotFollowed PauseKind = "not-followed"
)

// cyclesDone counts the pauses that are over.
type cyclesDone struct{ planned, interrupted, notFollowed int }

func (c *cyclesDone) add(kind PauseKind) {
	switch kind {
	case InterruptedPause:
		c.interrupted++
	case NotFollowed:
		c.notFollowed++
	default:
		c.planned++
	}
}

// missing says that fewer cycles were done than the sheet plans; empty where all were.
func (c cyclesDone) missing(plan *CyclePlan) string {
	if plan == nil || c.planned >= plan.Cycles {
		return ""
	}
	text := fmt.Sprintf("%d of %d power cycles were done", c.planned, plan.Cycles)
	if c.notFollowed > 0 {
		text += fmt.Sprintf("; the unit did not follow %s", times(c.notFollowed))
	}
	if c.interrupted > 0 {
		text += fmt.Sprintf("; the program was away %s, and what that cut short does not count", times(c.interrupted))
	}
	return text
}

func times(n int) string {
	if n == 1 {
		return "once"
	}
	return fmt.Sprintf("%d times", n)
}

func (p CyclePlan) validate(m *mistakes, path string, s Sheet) {
	if p.TestPoint == "" {
		m.add(path+"test_point", "name the test point whose instrument switches the unit")
	} else if _, known := s.point(p.TestPoint); !known {
		m.add(path+"test_point", "there is no test point %q", p.TestPoint)
	}
	if p.Cycles < 1 {
		m.add(path+"cycles", "%d: switch off and on at least once", p.Cycles)
	}
	if p.Off < time.Second {
		m.add(path+"off", "%s: the unit stays off for a second or more", p.Off)
	}
	longest := time.Duration(0)
	for i, point := range s.TestPoints {
		for j, check := range point.Checks {
			longest = max(longest, check.Settle+check.FreshFor)
			at := fmt.Sprintf("test_points[%d].checks[%d].", i, j)
			if check.Drift != nil {
				m.add(at+"drift", "drift is watched in a unit that stays on: leave it out, or the power cycles")
			}
			if check.Against.Baseline {
				m.add(at+"against.baseline", "each start is a begin of its own: a baseline of the first one says nothing of the others")
			}
		}
	}
	if p.On <= longest {
		m.add(path+"on", "%s: each start takes up to %s to settle and be read", p.On, longest)
	}
	if whole := time.Duration(p.Cycles) * (p.On + p.Off); p.Cycles > 0 && whole >= s.Soak.Duration {
		m.add(path+"cycles", "%d cycles take %s, and the soak %s", p.Cycles, whole, s.Soak.Duration)
	}
}

// point returns a test point by its name.
func (s Sheet) point(name TestPointName) (TestPoint, bool) {
	for _, p := range s.TestPoints {
		if p.Name == name {
			return p, true
		}
	}
	return TestPoint{}, false
}

// Pause tells that the unit is being switched off from a moment on. Readings from
// then on are not judged, until Continue and the settle time after it; neither is
// that time asked for evidence, as far as the sheet plans it. It comes after every
// reading before that moment.
func (j *Judgement) Pause(p Pause) []Change {
	plan := j.sheet.Soak.Cycles
	if plan == nil {
		return nil
	}
	var changes []Change
	at := stampOf(p.From)
	planned := at
	if p.Kind == PlannedPause {
		planned += spanOf(plan.Off + pauseSlack)
	}
	for _, w := range j.watches {
		changes = w.pause(changes, at, planned)
	}
	return changes
}

// Continue tells that the unit is on again since the end of a pause, and settles. Only
// now may be known of what kind the pause was.
func (j *Judgement) Continue(p Pause) {
	j.cycles.add(p.Kind)
	for _, w := range j.watches {
		w.goOn(stampOf(p.To), p.Kind == PlannedPause)
	}
}

// off is the pause that a watch is in, or was in last.
type off struct {
	from, planned stamp // planned is its latest end
	to            stamp // on again; never while it lasts
	ever          bool
	total         span // of all that is over, the settling after them included
}

const never = stamp(math.MaxInt64)

// covers tells whether the unit was off at t.
func (o *off) covers(t stamp) bool { return o.ever && t >= o.from && t < o.to }

// lasts tells whether the unit is off and nobody has switched it on again.
func (o *off) lasts() bool { return o.ever && o.to == never }

// excused is how much of the time up to end is not asked for evidence.
func (o *off) excused(end, start stamp) span {
	if !o.lasts() {
		return o.total
	}
	return o.total + max(0, min(end, o.planned)-max(o.from, start))
}

// pause ends what is judged at from.
func (w *Watch) pause(changes []Change, from, planned stamp) []Change {
	if w.off.lasts() {
		return changes
	}
	if from > w.evidence.start {
		covered, open, gap := w.evidence.until(from)
		w.evidence.covered = covered
		if gap {
			w.evidence.gaps.add(open, causeSilent)
		}
	}
	w.evidence.last, w.evidence.openLoss, w.evidence.broken = max(from, w.evidence.last), 0, false
	w.off.from, w.off.planned, w.off.to, w.off.ever = from, planned, never, true
	w.ref.known = false
	w.value, w.figure, w.figureU = math.NaN(), math.NaN(), math.NaN()
	return w.show(changes, from, Settling)
}

// goOn begins to settle at to. A pause that lasted longer than planned leaves a gap
// from its planned end on, one that was not planned from its begin on.
func (w *Watch) goOn(to stamp, planned bool) {
	if !w.off.lasts() {
		return
	}
	if !planned {
		w.off.planned = w.off.from
	}
	w.off.to, w.settled, w.seen = to, max(w.settled, to+spanOf(w.check.Settle)), to
	w.interrupt(to)
	begin := w.settled
	if to > w.off.planned {
		begin = w.off.planned
	}
	w.off.total += max(0, begin-max(w.off.from, w.evidence.start))
	w.evidence.lastGap = gapStamps{from: w.off.from, to: begin}
	w.evidence.last = max(begin, w.evidence.start)
}
