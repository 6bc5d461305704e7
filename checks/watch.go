package checks

import (
	"math"
	"time"

	"soakline/device"
)

// Watch follows one check of one unit, reading by reading. It holds the same few
// hundred bytes after a month as after a minute, but for the lists of the worst
// excursions and gaps, which are bounded. It is not for use by several goroutines
// at once.
//
// What it finds depends on the readings, the references and the losses told to
// it, in their order; Advance only lets the state be silent in time.
type Watch struct {
	key   CheckKey
	check Check
	hold  span
	fresh span

	settled  stamp // readings before it are shown, not judged
	ref      reference
	crossRef bool // the reference is another test point's reading
	base     *baseline

	accepted stamp // latest reading that did not go back in time
	seen     stamp // latest reading that gave a figure; begin before the first
	state    State
	since    stamp
	value    float64
	figure   float64
	figureU  float64

	out, guard holder // outside; in the guard band
	before     candidate
	evidence   evidence
	off        off
	figures    stream
	list       excursionList

	counts     counts
	refused    string
	unresolved *unresolved
}

// counts are readings that were not judged, by reason, and those that were
// judged with less than is wished.
type counts struct {
	settling, outOfOrder, unusable, unreferenced, withoutU int
}

// unresolved is the first figure that was not within when the readings stopped,
// for less than the hold time, so that nobody knows if it stayed.
type unresolved struct {
	at    stamp
	state State
}

// NewWatch returns a watch that begins at begin. A check that Validate would find
// a mistake in is watched, but refused: it can't be decided.
func NewWatch(check Check, key CheckKey, begin time.Time) *Watch {
	at := stampOf(begin)
	w := &Watch{
		key: key, check: check,
		hold: spanOf(check.Hold), fresh: spanOf(check.FreshFor),
		settled: at + spanOf(check.Settle), accepted: at, seen: at, since: at, state: Settling,
		value: math.NaN(), figure: math.NaN(), figureU: math.NaN(),
	}
	w.evidence = evidence{start: w.settled, last: w.settled, fresh: w.fresh}
	if check.Against.Baseline {
		w.evidence.start += spanOf(check.Against.BaselineFor)
		w.evidence.last = w.evidence.start
		w.base = &baseline{until: w.evidence.start}
	} else {
		w.crossRef = check.Against.TestPoint != ""
	}
	if err := check.Validate(); err != nil {
		w.refused = err.Error()
	}
	return w
}

// Observe takes one reading of the check's measure at its test point and returns
// what it changed; nil, without an allocation, if nothing. A reading that is
// older than the one before it, or than the begin, is counted and not judged.
func (w *Watch) Observe(r device.Reading) []Change {
	t := stampOf(r.At)
	if t < w.accepted {
		w.counts.outOfOrder++
		return nil
	}
	if math.IsNaN(r.Value) || math.IsInf(r.Value, 0) {
		w.counts.unusable++
		return nil
	}
	w.accepted = t
	if w.off.covers(t) {
		w.counts.settling++
		return nil
	}
	changes := w.expire(nil, t)
	if w.crossRef && (!w.ref.known || t-w.ref.at > w.fresh) {
		w.counts.unreferenced++
		return changes
	}
	u := givenUncertainty(r)
	settling := t < w.settled
	if !settling && w.base != nil {
		if settling = !w.base.take(t, w.settled, w.fresh, r.Value, u); !settling {
			w.ref, w.base = w.base.reference(), nil
		}
	}
	y, figureU := w.ref.subtract(r.Value, u)
	w.seen, w.value, w.figure, w.figureU = t, r.Value, y, figureU
	if settling {
		w.counts.settling++
		return w.show(changes, t, Settling)
	}
	return w.judge(changes, t, y, figureU)
}

// ObserveReference takes a reading of the test point that the check is compared
// with.
func (w *Watch) ObserveReference(r device.Reading) []Change {
	t := stampOf(r.At)
	if w.ref.known && t < w.ref.at || math.IsNaN(r.Value) || math.IsInf(r.Value, 0) {
		w.counts.unreferenced++
		return nil
	}
	if w.off.covers(t) {
		return nil
	}
	changes := w.expire(nil, t)
	if w.evidence.figures > 0 && t > w.deadline() {
		w.evidence.broken = true
	}
	w.ref = reference{at: t, value: r.Value, u: givenUncertainty(r), known: true}
	return changes
}

// judge applies limit, hold time and hysteresis to a figure.
func (w *Watch) judge(changes []Change, t stamp, y, u float64) []Change {
	if u == 0 && w.check.Limit.Guard.Rule == GuardBanded && w.check.Limit.Guard.Width == 0 {
		w.counts.withoutU++
	}
	if w.evidence.figure(t) {
		w.interrupt(t)
	}
	w.figures.add(y)
	state, edge, nothingLeft := w.check.Limit.classify(y, u)
	if nothingLeft && w.refused == "" {
		_, _, err := w.check.Limit.AcceptanceInterval(u)
		w.refused = err.Error()
		changes = append(changes, Change{Check: w.key, Kind: CheckRefused, At: t.time(), Text: w.refused})
	}
	changes = w.excursions(changes, t, state, edge, y, u)
	switch {
	case w.out.lasting():
		state = Outside
	case w.guard.lasting() && state == Within:
		state = Borderline
	}
	return w.show(changes, t, state)
}

// Lost takes the interval out of the evidence. It is told once all readings
// before to have been observed and before any later one.
func (w *Watch) Lost(from, to time.Time, n int, cause string) {
	w.evidence.lose(stampOf(from), stampOf(to), n, cause)
}

// Advance tells the time, so that silence shows without waiting for the next
// reading. It changes no verdict.
func (w *Watch) Advance(now time.Time) []Change { return w.expire(nil, stampOf(now)) }

// deadline is the last moment at which the latest figure is fresh.
func (w *Watch) deadline() stamp {
	if w.crossRef && w.ref.known {
		return min(w.seen, w.ref.at) + w.fresh
	}
	return w.seen + w.fresh
}

// expire lets the state be silent if the latest figure is no longer fresh at t.
func (w *Watch) expire(changes []Change, t stamp) []Change {
	if w.off.lasts() {
		return changes
	}
	if deadline := w.deadline(); t > deadline && w.state != Silent {
		return w.show(changes, deadline, Silent)
	}
	return changes
}

// show changes the state.
func (w *Watch) show(changes []Change, t stamp, state State) []Change {
	if state == w.state {
		return changes
	}
	change := Change{Check: w.key, Kind: StateChanged, At: t.time(), From: w.state, To: state}
	w.state, w.since = state, t
	return append(changes, change)
}

// Key returns which check is watched.
func (w *Watch) Key() CheckKey { return w.key }

// State returns how the check stands.
func (w *Watch) State() State { return w.state }

// Standing returns how the check stands, with its figures.
func (w *Watch) Standing() Standing {
	_, low, high := w.figures.summary()
	s := Standing{
		Check: w.key, State: w.state, Since: w.since.time(),
		Value: w.value, Figure: w.figure, U: w.figureU,
		Limit: w.check.Limit, Low: low, High: high, Readings: w.figures.n, Refused: w.refused,
	}
	if !math.IsNaN(w.value) {
		s.At = w.seen.time()
	}
	return s
}

// Evidence returns the share of the time from the settle time to now that figures
// cover, 0 to 1; NaN while that time has no length.
func (w *Watch) Evidence(now time.Time) float64 { return w.share(stampOf(now)) }

// judgedUntil is how much of the time up to end is asked for evidence.
func (w *Watch) judgedUntil(end stamp) span {
	excused := w.off.excused(end, w.evidence.start)
	if !w.off.lasts() && end < w.evidence.last {
		excused -= w.evidence.last - end // it ends while it settles after a pause
	}
	return end - w.evidence.start - excused
}

// coveredUntil is evidence.until, but for the pauses.
func (w *Watch) coveredUntil(end stamp) (covered span, open gapStamps, gap bool) {
	switch e := &w.evidence; {
	case w.off.lasts() && end <= w.off.planned, w.off.ever && end <= e.last:
		return e.covered, gapStamps{}, false
	case w.off.lasts():
		return e.covered, gapStamps{from: max(w.off.planned, e.start), to: end}, true
	}
	return w.evidence.until(end)
}

func (w *Watch) share(end stamp) float64 {
	covered, _, _ := w.coveredUntil(end)
	judged := w.judgedUntil(end)
	if judged <= 0 {
		return math.NaN()
	}
	return min(1, float64(covered)/float64(judged))
}
