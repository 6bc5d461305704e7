package checks

import (
	"iter"
	"time"

	"soakline/device"
)

// Judgement is one unit's soak as it is judged: every check of its sheet, watched
// while it runs. The live bench and Judge are the same code; fed the same
// readings and losses in the same order they give the same verdict bit for bit.
//
// Order: readings of one check in the order of their times. Readings of different
// checks may come in any order to each other, unless one is the reference of the
// other. A loss comes after every reading before its To, and before any later one.
// A Judgement is not for use by several goroutines at once.
type Judgement struct {
	sheet   Sheet
	unit    UnitID
	begin   stamp
	planned stamp // planned end
	latest  stamp // latest reading
	watches []*Watch
	routes  map[CheckKey]route
	cycles  cyclesDone
}

// route is who wants a reading.
type route struct {
	references []*Watch
	watches    []*Watch
}

// NewJudgement returns the judgement of a soak that begins at begin and is to run
// for planned; 0 takes the sheet's duration.
func NewJudgement(sheet Sheet, unit UnitID, begin time.Time, planned time.Duration) *Judgement {
	if planned == 0 {
		planned = sheet.Soak.Duration
	}
	at := stampOf(begin)
	j := &Judgement{
		sheet: sheet, unit: unit, begin: at, planned: at + spanOf(planned), latest: at,
		routes: make(map[CheckKey]route),
	}
	for _, point := range sheet.TestPoints {
		for _, check := range point.Checks {
			j.add(NewWatch(check, CheckKey{TestPoint: point.Name, Measure: check.Measure}, begin))
		}
	}
	return j
}

func (j *Judgement) add(w *Watch) {
	j.watches = append(j.watches, w)
	r := j.routes[w.key]
	r.watches = append(r.watches, w)
	j.routes[w.key] = r
	if key, ok := w.check.Against.Key(w.key.Measure); ok {
		r := j.routes[key]
		r.references = append(r.references, w)
		j.routes[key] = r
	}
}

// Observe takes one reading at a test point and returns what it changed. A
// reading that the sheet asks nothing of, or after the planned end, changes
// nothing.
func (j *Judgement) Observe(point TestPointName, r device.Reading) []Change {
	t := stampOf(r.At)
	if t > j.planned {
		return nil
	}
	to, ok := j.routes[CheckKey{TestPoint: point, Measure: r.Measure}]
	if !ok {
		return nil
	}
	j.latest = max(j.latest, t)
	var changes []Change
	for _, w := range to.references {
		changes = append(changes, w.ObserveReference(r)...)
	}
	for _, w := range to.watches {
		changes = append(changes, w.Observe(r)...)
	}
	return changes
}

// Lost takes an interval in which readings were lost out of the evidence.
func (j *Judgement) Lost(loss Loss) {
	to := min(stampOf(loss.To), j.planned).time()
	for _, w := range j.watches {
		if loss.TestPoint == "" || loss.TestPoint == w.key.TestPoint {
			w.Lost(loss.From, to, loss.Readings, loss.Cause)
		}
	}
}

// Advance tells the time, so that silence shows without waiting for a reading.
// How often it is called, or if at all, changes no verdict.
func (j *Judgement) Advance(now time.Time) []Change {
	now = min(stampOf(now), j.planned).time()
	var changes []Change
	for _, w := range j.watches {
		changes = append(changes, w.Advance(now)...)
	}
	return changes
}

// Standings returns how every check stands, in the order of the sheet.
func (j *Judgement) Standings() []Standing {
	all := make([]Standing, len(j.watches))
	for i, w := range j.watches {
		all[i] = w.Standing()
	}
	return all
}

// States returns the state of every check, in the order of the sheet.
func (j *Judgement) States() []State {
	all := make([]State, len(j.watches))
	for i, w := range j.watches {
		all[i] = w.state
	}
	return all
}

// Evidence returns the smallest share, over all checks, of the time so far that
// figures cover; a check that is still settling has no share yet. NaN if none has.
func (j *Judgement) Evidence(now time.Time) float64 {
	return j.share(min(stampOf(now), j.planned))
}

// Progress returns how much of the planned time is over, 0 to 1.
func (j *Judgement) Progress(now time.Time) float64 {
	if j.planned <= j.begin {
		return 1
	}
	done := min(max(stampOf(now), j.begin), j.planned) - j.begin
	return float64(done) / float64(j.planned-j.begin)
}

// PlannedEnd returns when the soak is to end.
func (j *Judgement) PlannedEnd() time.Time { return j.planned.time() }

// End returns the verdict of the soak if it ends at end. Readings that were
// observed can't be taken back: an end before the latest of them is moved to it,
// and an end after the planned one to that; Verdict.End tells. End changes
// nothing, so it may be asked while the soak goes on.
func (j *Judgement) End(end time.Time) Verdict {
	return j.verdict(min(max(stampOf(end), j.latest), j.planned))
}

// Tagged is a reading and where it was taken.
type Tagged struct {
	TestPoint TestPointName
	Reading   device.Reading
}

// SoakRecord is what is kept of a soak, as plain values.
type SoakRecord struct {
	Unit  UnitID
	Begin time.Time
	// Planned is how long the soak was to run; 0 is the sheet's duration.
	Planned time.Duration
	// End is when it ended: Verdict.End of the live judgement.
	End time.Time
	// Readings are those of the soak in the order in which they were observed.
	Readings iter.Seq[Tagged]
	// Losses are in the order of their To.
	Losses []Loss
	// Pauses are those that the sheet plans, as they were, in the order of time.
	Pauses []Pause
}

// Judge gives the verdict of a sheet on a recorded soak. It is a pure function of
// the two.
func Judge(sheet Sheet, record SoakRecord) Verdict {
	return Resume(sheet, record).End(record.End)
}
