package checks

// phase is how far an excursion has come.
type phase uint8

const (
	calm    phase = iota // nothing
	pending              // bad, but not yet for the hold time
	open                 // declared
	ending               // back, but not yet for the hold time
)

// event is what one figure did to an excursion.
type event uint8

const (
	nothing event = iota
	begun
	ended
)

// holder applies the hold time: bad figures must last for it before there is an
// excursion, good ones before it is over. Only fresh figures fill it.
type holder struct {
	phase phase
	back  stamp // first figure back, while ending
	held  candidate
}

// step takes one figure: bad would begin or go on with an excursion, good would
// end it; a figure between the two, inside the hysteresis, leaves all as it is.
func (h *holder) step(t stamp, hold span, bad, good bool) event {
	switch h.phase {
	case calm:
		if !bad {
			return nothing
		}
		h.phase, h.held = pending, newCandidate(t)
		return h.declare(t, hold)
	case pending:
		if !bad {
			h.phase = calm
			return nothing
		}
		return h.declare(t, hold)
	case open:
		if !good {
			return nothing
		}
		h.phase, h.back = ending, t
		return h.close(t, hold)
	default:
		if !good {
			h.phase = open
			return nothing
		}
		return h.close(t, hold)
	}
}

func (h *holder) declare(t stamp, hold span) event {
	if t-h.held.from < hold {
		return nothing
	}
	h.phase = open
	return begun
}

func (h *holder) close(t stamp, hold span) event {
	if t-h.back < hold {
		return nothing
	}
	h.phase = calm
	return ended
}

// interrupt tells that there was a gap up to t. It returns true if what was
// pending may have become an excursion while nobody looked.
func (h *holder) interrupt(t stamp, hold span) (mayHave bool) {
	switch h.phase {
	case pending:
		h.phase = calm
		return t-h.held.from >= hold
	case ending:
		h.phase = open
	}
	return false
}

// lasting tells whether an excursion is declared and not over.
func (h *holder) lasting() bool { return h.phase == open || h.phase == ending }
