package notify

import "time"

// until returns when it is no longer quiet, if it is quiet at t. Times of day are
// those that a clock on the wall shows, also on a day when it is put forward or back.
func (q *Quiet) until(t time.Time) (end time.Time, quiet bool) {
	if q == nil {
		return t, false
	}
	day := func(days int, at time.Duration) time.Time {
		return time.Date(t.Year(), t.Month(), t.Day()+days, 0, 0, int(at/time.Second), 0, t.Location())
	}
	for days := -1; days <= 0; days++ {
		from, to := day(days, q.From), day(days, q.To)
		if q.To <= q.From {
			to = day(days+1, q.To)
		}
		if !t.Before(from) && t.Before(to) {
			return to, true
		}
	}
	return t, false
}
