package device

import "time"

// plan is what is asked and when. It knows no clock: every method is told the time.
type plan struct {
	entries []appointment
	version int // of the wants that it was made for
}

// appointment is a want, or the error queue, and when it is due.
type appointment struct {
	want Want
	// errorCheck marks the error queue's.
	errorCheck bool
	due        time.Time
	// latest is when it goes before others for which no relay must move.
	latest time.Time
	// failures in a row put the next question off.
	failures int
}

const (
	// mostPatience is how long something that is due may wait for the sake of a
	// relay.
	mostPatience = time.Second
	// firstPause and longestPause bound how long a question that failed twice and
	// more is put off: one that an instrument never answers costs its whole
	// timeout each time, which is taken from all the others.
	firstPause   = 500 * time.Millisecond
	longestPause = 8 * time.Second
	// never is the interval of what cannot work.
	never = 24 * time.Hour
)

// newPlan makes a plan for the wants; what was in the old one keeps its time.
func newPlan(wants []Want, errorCheck time.Duration, old plan, now time.Time) plan {
	var fresh plan
	for _, want := range wants {
		fresh.entries = append(fresh.entries, old.find(appointment{want: want}, now))
	}
	if errorCheck > 0 {
		check := appointment{want: Want{Every: errorCheck}, errorCheck: true}
		fresh.entries = append(fresh.entries, old.find(check, now.Add(errorCheck)))
	}
	return fresh
}

// find returns the old appointment for the same thing, else the new one, due then.
func (p plan) find(fresh appointment, due time.Time) appointment {
	for _, old := range p.entries {
		if old.want == fresh.want && old.errorCheck == fresh.errorCheck {
			return old
		}
	}
	fresh.set(due)
	return fresh
}

// next returns which appointment comes first and how long until then; -1 if there
// is none. Of those that are due, one on the selected channel comes first, so that
// relays are not worn, unless another has waited as long as it can.
func (p plan) next(now time.Time, selected string) (index int, until time.Duration) {
	index = -1
	for i := range p.entries {
		if index < 0 || p.entries[i].before(&p.entries[index], now, selected) {
			index = i
		}
	}
	if index < 0 {
		return -1, never
	}
	return index, max(p.entries[index].due.Sub(now), 0)
}

// before tells whether a goes before b.
func (a *appointment) before(b *appointment, now time.Time, selected string) bool {
	aDue, bDue := !a.due.After(now), !b.due.After(now)
	switch {
	case aDue != bDue:
		return aDue
	case !aDue:
		return a.due.Before(b.due)
	}
	aLate, bLate := !a.latest.After(now), !b.latest.After(now)
	switch {
	case aLate != bLate:
		return aLate
	case aLate:
		return a.latest.Before(b.latest)
	case (a.want.Channel == selected) != (b.want.Channel == selected):
		return a.want.Channel == selected
	default:
		return a.due.Before(b.due)
	}
}

// set says when it is due.
func (a *appointment) set(due time.Time) {
	patience := mostPatience
	if every := a.want.Every; every > 0 {
		patience = min(every/2, mostPatience)
	}
	a.due, a.latest = due, due.Add(patience)
}

// begun moves it to the next time on its grid; a time that has gone by is not
// made up for.
func (a *appointment) begun(now time.Time) {
	next := a.due.Add(a.want.Every)
	if next.Before(now) {
		next = now
	}
	a.set(next)
}

// ended puts off what fails again and again.
func (a *appointment) ended(kind Kind, now time.Time) {
	switch kind {
	case "", Overflow:
		a.failures = 0
	case Unsuitable:
		a.set(now.Add(never))
	default:
		a.failures++
		if a.failures < 2 {
			return
		}
		pause := min(firstPause<<min(a.failures-2, 10), longestPause)
		if later := now.Add(pause); later.After(a.due) {
			a.set(later)
		}
	}
}
