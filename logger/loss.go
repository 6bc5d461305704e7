package logger

import (
	"maps"
	"math"
	"slices"
	"sync"
	"time"

	"soakline/checks"
)

// losses gathers what instruments' goroutines could not hand to the owner, so that
// the evidence that is shown while a soak runs knows of it. The book is told by
// itself, and the verdict is the book's.
type losses struct {
	mu  sync.Mutex
	all map[*route]*checks.Loss
}

// endOfTime is after every reading.
var endOfTime = time.UnixMicro(math.MaxInt64)

// add notes one reading that a route should have led to.
func (l *losses) add(r *route, at time.Time) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.all == nil {
		l.all = map[*route]*checks.Loss{}
	}
	loss := l.all[r]
	if loss == nil {
		loss = &checks.Loss{TestPoint: r.point.Name, From: at, To: at, Cause: lostInbox}
		l.all[r] = loss
	}
	loss.To = at
	loss.Readings++
}

// take takes out what was lost up to a time, the earliest first.
func (l *losses) take(until time.Time) []lostOnRoute {
	l.mu.Lock()
	defer l.mu.Unlock()
	var taken []lostOnRoute
	maps.DeleteFunc(l.all, func(r *route, loss *checks.Loss) bool {
		if loss.To.After(until) {
			return false
		}
		taken = append(taken, lostOnRoute{r, *loss})
		return true
	})
	slices.SortFunc(taken, func(a, b lostOnRoute) int { return a.loss.To.Compare(b.loss.To) })
	return taken
}

type lostOnRoute struct {
	route *route
	loss  checks.Loss
}

// tellLosses has the judgements know what was lost up to a time: after every
// reading before it and before any later one.
func (b *Bench) tellLosses(until time.Time) {
	for _, lost := range b.losses.take(until) {
		lost.route.soak.judgement.Lost(lost.loss)
		b.options.Log.Error("readings were lost: the bench is too busy", "unit", lost.route.soak.unit,
			"test_point", lost.route.point.Name, "readings", lost.loss.Readings, "from", lost.loss.From, "to", lost.loss.To)
	}
}
