package checks

// excursions lets a figure begin, deepen and end excursions. While one outside is
// declared there is no borderline one beside it.
func (w *Watch) excursions(changes []Change, t stamp, state State, edge Edge, y, u float64) []Change {
	limit := &w.check.Limit
	back := limit.inside(y, w.check.Hysteresis)
	wasCalm := w.out.phase == calm
	did := w.out.step(t, w.hold, state == Outside, back)
	if wasCalm && w.out.phase != calm {
		w.before = w.guard.held // as it was before the figures that may be outside
	}
	if state == Outside && w.out.phase != calm {
		w.out.held.take(t, limit, edge, y, u)
	}
	switch did {
	case begun:
		changes = w.yield(changes, t)
		changes = w.tell(changes, ExcursionBegun, t, w.out.held, Outside, t)
	case ended:
		changes = w.tell(changes, ExcursionEnded, t, w.out.held, Outside, w.out.back)
	}
	if w.out.phase == open {
		w.guard.phase = calm
		return changes
	}
	return w.borderline(changes, t, state, edge, y, u, back)
}

// borderline is excursions for the guard band. Whatever is not within counts, so
// that figures which hop across the limit for long are not overlooked.
func (w *Watch) borderline(changes []Change, t stamp, state State, edge Edge, y, u float64, back bool) []Change {
	bad := state == Borderline || state == Outside
	did := w.guard.step(t, w.hold, bad, back && state == Within)
	if bad && w.guard.phase != calm {
		w.guard.held.take(t, &w.check.Limit, edge, y, u)
	}
	switch did {
	case begun:
		return w.tell(changes, ExcursionBegun, t, w.guard.held, Borderline, t)
	case ended:
		return w.tell(changes, ExcursionEnded, t, w.guard.held, Borderline, w.guard.back)
	}
	return changes
}

// yield ends a borderline excursion where the one outside began.
func (w *Watch) yield(changes []Change, t stamp) []Change {
	if !w.guard.lasting() {
		return changes
	}
	held := w.guard.held
	if w.before.from == held.from {
		held = w.before
	}
	return w.tell(changes, ExcursionEnded, t, held, Borderline, w.out.held.from)
}

// tell adds the begin or end of an excursion to the changes, and an end to the
// list.
func (w *Watch) tell(changes []Change, kind ChangeKind, t stamp, c candidate, state State, to stamp) []Change {
	e := c.excursion(w.key, &w.check.Limit, state, to, kind == ExcursionBegun)
	if kind == ExcursionEnded {
		w.list.add(e, to-c.from)
	}
	return append(changes, Change{Check: w.key, Kind: kind, At: t.time(), Excursion: e})
}

// interrupt lets no hold time be filled by a gap that ends at t.
func (w *Watch) interrupt(t stamp) {
	outAt, edgeAt := w.out.held.from, w.guard.held.from
	switch out, edge := w.out.interrupt(t, w.hold), w.guard.interrupt(t, w.hold); {
	case w.unresolved != nil:
	case out:
		w.unresolved = &unresolved{at: outAt, state: Outside}
	case edge:
		w.unresolved = &unresolved{at: edgeAt, state: Borderline}
	}
}
